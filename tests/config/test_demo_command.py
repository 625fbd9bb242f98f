"""`manage.py demo`: one command from an empty folder to an emergency call on a crew's route."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command


def test_a_call_is_not_taken_while_serving() -> None:
    with pytest.raises(CommandError, match="--call goes with --no-serve"):
        call_command("demo", "--call", "call.json")


def test_a_file_that_is_no_call_is_refused_before_anything_is_loaded(tmp_path: Path) -> None:
    path = tmp_path / "call.json"
    path.write_text('{"format": 1}', encoding="utf-8")

    with pytest.raises(CommandError, match="must be an object with the keys") as refused:
        call_command("demo", "--no-serve", "--call", str(path))

    assert refused.value.returncode == 2


@pytest.mark.long
def test_the_whole_path_runs_on_an_empty_folder_and_again(tmp_path: Path) -> None:
    """Twice on one database: the company is loaded once, and each call is a new one."""
    kept = {name: value for name, value in os.environ.items() if name not in {"DATABASE_URL", "REDIS_URL"}}
    for number in (1, 2):
        done = subprocess.run(
            [sys.executable, "manage.py", "demo", "--no-serve"],
            cwd=settings.BASE_DIR,
            env={**kept, "EBBLINE_DATA": str(tmp_path)},
            capture_output=True,
            text=True,
            timeout=280,
            check=False,
        )

        assert done.returncode == 0, done.stderr
        headings = [line.split()[0] for line in done.stdout.splitlines() if line[:1].isupper()]
        assert headings == ["CALL", "ESTIMATE", "CREWS", "SENT", "ROUTE"]
        assert ("Loading the demo company" in done.stderr) == (number == 1)
