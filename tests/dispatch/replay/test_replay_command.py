"""`manage.py replay` from outside: exit statuses, what goes to which stream, the same bytes twice, an own database."""

import copy
import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.architecture import order
from tests.golden.night_scenario import scenario


def replay(*arguments: str, data: Path) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [sys.executable, "manage.py", "replay", *arguments],
        cwd=order.ROOT,
        env={**os.environ, "EBBLINE_DATA": str(data), "DATABASE_URL": ""},
        capture_output=True,
        check=False,
    )


def short_night(*, call_id: int) -> dict[str, Any]:
    told = copy.deepcopy(scenario())
    step = {"at": "2026-01-15T18:00:00-08:00", "who": "dispatcher", "do": "take_call"}
    return {**told, "steps": [{**step, "with": {"area_id": "@area:river"}, "expect": {"call_id": call_id}}]}


@pytest.fixture
def night(tmp_path: Path) -> Path:
    return tmp_path / "night.json"


def test_a_bad_file_is_refused_with_status_2_on_standard_error(night: Path, tmp_path: Path) -> None:
    night.write_text('{"format": 1, "company": {}, "steps": [{"at": "now"}]}')
    done = replay(str(night), data=tmp_path / "own")
    assert (done.returncode, done.stdout) == (2, b"")
    assert json.loads(done.stderr)["code"] == "scenario_unusable"
    assert json.loads(done.stderr)["where"] == "steps[0].at"


@pytest.mark.long
def test_the_exit_status_says_whether_every_expectation_held(night: Path, tmp_path: Path) -> None:
    kept, own = tmp_path / "kept", tmp_path / "own"
    night.write_text(json.dumps(short_night(call_id=1)))
    done = replay(str(night), "--database", str(kept), data=own)
    assert (done.returncode, done.stderr) == (0, b"")
    assert json.loads(done.stdout)["returned"] == {"call_id": 1, "area_id": 1}
    again = replay(str(night), "--database", str(kept), data=own)
    assert (again.returncode, again.stdout) == (2, b"")
    assert json.loads(again.stderr)["where"] == "--database"
    # The installation's own data was not looked at, let alone written.
    assert not (own / "ebbline.sqlite3").exists()
    night.write_text(json.dumps(short_night(call_id=2)))
    done = replay(str(night), data=own)
    assert done.returncode == 1
    assert json.loads(done.stdout)["failed"] == [{"path": "call_id", "expected": 2, "found": 1}]


@pytest.mark.long
def test_the_same_file_gives_the_same_bytes(night: Path, tmp_path: Path) -> None:
    night.write_text(json.dumps(scenario()))
    first, second = (replay(str(night), data=tmp_path / "own") for _ in range(2))
    assert first.returncode == 0, first.stderr
    assert first.stdout.count(b"\n") == len(scenario()["steps"])
    assert first.stdout == second.stdout
