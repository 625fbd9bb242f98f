"""The API describes itself completely."""

from pathlib import Path

from django.core.management import call_command


def test_every_operation_is_described(tmp_path: Path) -> None:
    described = tmp_path / "schema.yaml"

    call_command("spectacular", validate=True, fail_on_warn=True, file=str(described))

    assert "/api/v1/" in described.read_text()
