"""The code is clean by the tools that pre-commit runs."""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent


def _clean(*command: str) -> None:
    result = subprocess.run([sys.executable, "-m", *command], cwd=ROOT, capture_output=True, text=True, timeout=540)
    assert result.returncode == 0, result.stdout[-8_000:] + result.stderr[-2_000:]


def test_ruff_finds_nothing() -> None:
    _clean("ruff", "check", ".")


def test_everything_is_formatted() -> None:
    _clean("ruff", "format", "--check", ".")


def test_pure_cores_are_strictly_typed() -> None:
    _clean("mypy", "--strict", "jobs/science", "equipment/sizing", "equipment/stock", "dispatch/planner")


@pytest.mark.long
def test_types_hold() -> None:
    _clean("mypy", "jobs", "equipment", "dispatch", "config")


@pytest.mark.django_db
def test_no_migration_is_forgotten() -> None:
    from django.core.management import call_command

    call_command("makemigrations", check=True, dry_run=True, verbosity=0)


def test_ci_script_is_sound() -> None:
    bash = shutil.which("bash")
    if bash is None:
        pytest.skip("no bash on PATH")
    subprocess.run([bash, "-n", ROOT / ".ci" / "run"], check=True)
