"""The worked night and the night of the demo company as real processes: killed and resumed, changed, repeated."""

import json
import os
import random
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from dispatch.replay import place
from tests.architecture import order
from tests.golden.night_scenario import scenario

pytestmark = pytest.mark.long
OURS = order.ROOT / "fixtures_demo" / "night.json"


def whole(night: Path, data: Path, *more: str) -> subprocess.CompletedProcess[bytes]:
    with place.environment(str(data)) as its:
        command = [sys.executable, "-m", "dispatch.replay", str(night), *more]
        return subprocess.run(command, cwd=order.ROOT, env=its, capture_output=True, check=False)


def killed_after(lines: int, night: Path, data: Path) -> list[bytes]:
    """Start a replay and kill its process without warning once it has told so many steps; what it told."""
    with place.environment(str(data)) as its:
        command = [sys.executable, "-m", "dispatch.replay", str(night)]
        process = subprocess.Popen(command, cwd=order.ROOT, env=its, stdout=subprocess.PIPE)
        assert process.stdout is not None
        told = [process.stdout.readline() for _ in range(lines)]
        os.kill(process.pid, signal.SIGKILL)
        process.wait()
        process.stdout.close()
    assert process.returncode == -signal.SIGKILL
    return told


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_killed_at_a_random_step_and_resumed_it_ends_the_same(seed: int, tmp_path: Path) -> None:
    night = tmp_path / "night.json"
    night.write_text(json.dumps(scenario()))
    unbroken = whole(night, tmp_path / "unbroken")
    assert unbroken.returncode == 0, unbroken.stderr[-2000:]
    lines = unbroken.stdout.splitlines(keepends=True)
    at = random.Random(seed).randrange(5, len(lines) - 5)
    broken = tmp_path / "broken"
    assert killed_after(at, night, broken) == lines[:at]
    resumed = whole(night, broken, "--resume")
    assert resumed.returncode == 0, resumed.stderr[-2000:]
    assert resumed.stdout == unbroken.stdout


def test_the_night_of_the_demo_company_holds_and_a_changed_expectation_fails_it(tmp_path: Path) -> None:
    """Killed once on the way, and all the same its end is the end of the night that was changed and not killed."""
    told: dict[str, Any] = json.loads(OURS.read_text())
    told["company"] = str(OURS.parent)
    at = random.Random(4).randrange(10, len(told["steps"]) - 10)
    changed = json.loads(json.dumps(told))
    closing = next(step for step in changed["steps"] if step.get("as") == "closing")
    closing["expect"]["north.AM-LP.ready"] += 1
    files = [tmp_path / "night.json", tmp_path / "changed.json"]
    for file, one in zip(files, (told, changed), strict=True):
        file.write_text(json.dumps(one))
    killed_after(at, files[0], tmp_path / "ours")
    resumed = whole(files[0], tmp_path / "ours", "--resume")
    assert resumed.returncode == 0, resumed.stderr[-2000:]
    other = whole(files[1], tmp_path / "other")
    assert other.returncode == 1
    ours, theirs = (
        [json.loads(line) for line in done.stdout.splitlines()]  # of the same steps, but for what one expected
        for done in (resumed, other)
    )
    failed = [line["as"] for line in theirs if line["failed"]]
    assert failed == ["closing"]
    assert [{**line, "failed": []} for line in theirs] == ours
