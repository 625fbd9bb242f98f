"""Processes of the program that start together. They live as long as the test run, since starting one takes seconds."""

import json
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.equipment import cast as casting

ROOT = Path(__file__).resolve().parents[2]
SECRET = "the same for all of them " * 3
Race = Callable[..., list[list[str]]]


class Racer:
    """One process that runs what it is told when it is told."""

    def __init__(self, environment: dict[str, str]) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tests.races.racer"],
            cwd=ROOT,
            env={**environment, "DJANGO_SETTINGS_MODULE": "config.settings", "EBBLINE_SECRET_KEY": SECRET},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )

    def tell(self, line: str) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write(line + "\n")
        self.process.stdin.flush()

    def hear(self) -> str:
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        assert line, "a racing process died; its last words are above"
        return line.rstrip()


@pytest.fixture(scope="session")
def racers() -> Iterator[list[Racer]]:
    """The processes started so far."""
    started: list[Racer] = []
    yield started
    for racer in started:
        racer.process.kill()
        racer.process.wait()


@pytest.fixture
def cast(transactional_db: None) -> casting.Cast:
    return casting.make()


@pytest.fixture
def race(child_environment: dict[str, str], racers: list[Racer]) -> Race:
    """`race(plan, plan, ...)`: one process for each plan, let go together; what came of each plan's steps."""

    def run(*plans: dict[str, Any]) -> list[list[str]]:
        racers.extend(Racer(child_environment) for _ in range(len(plans) - len(racers)))
        running = racers[: len(plans)]
        for racer, plan in zip(running, plans, strict=True):
            racer.tell(json.dumps(plan))
        for racer in running:
            assert racer.hear() == "ready"
        for racer in running:
            racer.tell("go")
        return [json.loads(racer.hear()) for racer in running]

    return run
