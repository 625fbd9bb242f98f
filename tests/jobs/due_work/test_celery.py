"""Rows of work are done by real Celery workers over a real Redis: woken up at once, or found by the sweep."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from django.contrib.auth.models import User

from jobs.models import DueWork
from tests.architecture.order import ROOT
from tests.servers import Server

HANDLERS = "tests.jobs.due_work.handlers"
NOW = datetime(2026, 1, 16, 6, 47, tzinfo=UTC)
PATIENCE_S = 60


@pytest.fixture
def environment(child_environment: dict[str, str], redis_server: Server) -> dict[str, str]:
    return {**child_environment, "REDIS_URL": redis_server.address}


@pytest.fixture
def start_worker(environment: dict[str, str], tmp_path: Path) -> Iterator[Callable[..., None]]:
    started: list[subprocess.Popen[bytes]] = []

    def start(*options: str) -> None:
        command = [sys.executable, "-m", "celery", "-A", "config", "worker", "-c", "1", "-I", HANDLERS]
        with (tmp_path / "worker.log").open("wb") as log:
            started.append(
                subprocess.Popen(
                    [*command, *options],
                    cwd=ROOT,
                    env=environment,
                    stdin=subprocess.DEVNULL,
                    stdout=log,
                    stderr=subprocess.STDOUT,
                    start_new_session=True,
                )
            )

    yield start
    for process in started:
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()


def _finished(pk: int, log: Path) -> DueWork:
    until = time.monotonic() + PATIENCE_S
    while time.monotonic() < until:
        row = DueWork.objects.get(pk=pk)
        if row.state == DueWork.State.DONE:
            return row
        time.sleep(0.1)
    raise AssertionError(f"still {row.state}: {row.error}\n{log.read_text()[-5_000:]}")


def test_worker_is_woken_by_a_new_row(
    environment: dict[str, str], start_worker: Callable[..., None], tmp_path: Path
) -> None:
    start_worker()
    code = (
        "import django; django.setup()\n"
        f"import {HANDLERS}\n"
        "from datetime import datetime; from jobs.due_work.queue import enqueue\n"
        f"now = datetime.fromisoformat({NOW.isoformat()!r})\n"
        "print(enqueue(kind='greet', arguments={'name': 'woken'}, due_at=now, now=now))"
    )
    written = subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT,
        env={**environment, "DJANGO_SETTINGS_MODULE": "config.settings"},
        capture_output=True,
        text=True,
        check=True,
    )

    row = _finished(int(written.stdout), tmp_path / "worker.log")

    assert (row.attempts, row.result) == (1, {"greeted": "woken"})
    assert User.objects.filter(username="woken").count() == 1


def test_row_whose_message_was_lost_is_found_by_the_sweep(start_worker: Callable[..., None], tmp_path: Path) -> None:
    row = DueWork.objects.create(kind="greet", arguments={"name": "swept"}, due_at=NOW, made_at=NOW)

    start_worker("--beat", "--schedule", str(tmp_path / "schedule"))

    assert _finished(row.pk, tmp_path / "worker.log").attempts == 1
    assert User.objects.filter(username="swept").count() == 1
