"""A full disk, a killed solver, an emptied broker: what was accepted is there once, and the audit is clean."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
import time_machine
from django.db import OperationalError, connection
from django.utils import timezone

from equipment import custody
from equipment.audit import audit
from equipment.models import Move
from jobs import due_work, intake
from jobs.models import Call, DueWork, UseCaseCall
from tests import servers
from tests.architecture.order import ROOT
from tests.equipment import cast as casting

pytestmark = [pytest.mark.long, pytest.mark.django_db(transaction=True)]
PATIENCE_S = 90.0


def _until(true: Callable[[], bool], what: str) -> None:
    until = time.monotonic() + PATIENCE_S
    while not true():
        assert time.monotonic() < until, what
        time.sleep(0.1)


def test_a_full_disk_refuses_whole_writes_and_loses_none_that_were_accepted() -> None:
    if connection.vendor != "sqlite":
        pytest.skip("max_page_count is SQLite's")
    cast = casting.make()
    cast.units(*(f"{n:04}" for n in range(1, 5)))
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA page_count")
        (pages,) = cursor.fetchone()
        cursor.execute(f"PRAGMA max_page_count = {pages + 4}")
    accepted, refused = [], 0
    for _ in range(400):
        key = uuid4()
        try:
            intake.take_call(actor=cast.dispatcher, now=casting.NIGHT, key=key, area_id=cast.area.pk)
        except OperationalError:
            refused += 1
            if refused > 3:
                break
        else:
            accepted.append(key)
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA max_page_count = 1073741823")
    assert refused > 3
    assert Call.objects.count() == len(accepted) > 0
    assert set(UseCaseCall.objects.filter(verb="take_call").values_list("key", flat=True)) == set(accepted)
    custody.scan_out(**cast.by(cast.keeper), numbers=("1",), vehicle_id=cast.van.pk, job_id=cast.job().pk)
    assert Move.objects.filter(why="loaded").count() == 1
    assert audit() == ()


def test_a_clock_that_jumps_an_hour_does_each_work_once() -> None:
    cast = casting.make()
    now = timezone.now()
    for minutes in (-1, 10, 50, 70):
        at = now + timedelta(minutes=minutes)
        DueWork.objects.create(kind="equipment.audit_ledgers", due_at=at, made_at=now, coalesce=f"test {minutes}")
    with time_machine.travel(now + timedelta(hours=1), tick=False):
        due_work.run_due()
        due_work.run_due()
    assert due_work.run_due() == 0, "back at its own time nothing is done again"
    done = DueWork.objects.filter(coalesce__startswith="test", state="done")
    assert (done.count(), set(done.values_list("attempts", flat=True))) == (3, {1})
    assert DueWork.objects.filter(coalesce="test 70", state="pending", attempts=0).count() == 1
    assert audit() == ()
    assert cast.area.pk


def _worker(environment: dict[str, str], *options: str) -> subprocess.Popen[bytes]:
    command = [sys.executable, "-m", "celery", "-A", "config", "worker", *options]
    return subprocess.Popen(
        command, cwd=ROOT, env=environment, stdin=subprocess.DEVNULL, start_new_session=True,
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip


def test_an_emptied_broker_and_a_killed_worker_cost_time_and_nothing_else(
    child_environment: dict[str, str], tmp_path: Path
) -> None:
    casting.make()
    now = timezone.now()

    def write() -> Any:
        name = uuid4().hex
        return DueWork.objects.create(kind="equipment.audit_ledgers", due_at=now, made_at=now, coalesce=name).pk

    def done(pk: int) -> bool:
        return DueWork.objects.get(pk=pk).state == "done"

    first, second = write(), 0
    try:
        with servers.redis_server() as broker:
            given = {**child_environment, "REDIS_URL": broker.address}
            beat = ("-B", "--schedule", str(tmp_path / "beat"), "-Q", "quick,plan,celery", "-c", "1")
            worker = _worker(given, *beat)
            _until(lambda: done(first), "the first row was not done")
            os.killpg(worker.pid, signal.SIGKILL)
            worker.wait()
            second = write()
            # In hand of a worker that died: its lease runs out, and another takes it.
            DueWork.objects.filter(pk=second).update(
                state="running", attempts=1, lease_until=timezone.now() + timedelta(seconds=3)
            )
        with servers.redis_server() as broker:
            worker = _worker({**child_environment, "REDIS_URL": broker.address}, *beat)
            _until(lambda: done(second), "the row of the killed worker was not taken over")
    finally:
        os.killpg(worker.pid, signal.SIGKILL)
        worker.wait()
    assert DueWork.objects.get(pk=first).attempts == 1
    assert DueWork.objects.get(pk=second).attempts == 2
    assert audit() == ()
