"""A full disk, a killed solver, an emptied broker: what was accepted is there once, and the audit is clean."""

import itertools
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

import pytest
import time_machine
from django.contrib.auth.models import User
from django.db import OperationalError, connection
from django.utils import timezone

from equipment import custody, reservations
from equipment.audit import audit
from equipment.models import Move, Reservation
from jobs import drying, due_work, intake
from jobs.drying_values import AirValue
from jobs.models import AirReading, Call, DueWork, UseCaseCall
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
    cast.units(*(f"{n:04}" for n in range(1, 200)))
    job, pool = cast.job(), cast.pool().pk
    days = itertools.count(1)

    def hold(by: dict[str, Any]) -> None:
        starts_at = casting.NIGHT + next(days) * casting.DAY
        terms = {"starts_at": starts_at, "ends_at": starts_at + casting.HOUR, "keep_for": casting.HOUR}
        reservations.hold(**by, job_id=job.pk, wanted=((pool, 1),), leads_reason="wet", **terms)

    deeds: tuple[tuple[str, User, Callable[[dict[str, Any]], Any]], ...] = (
        ("take_call", cast.dispatcher, lambda by: intake.take_call(**by, area_id=cast.area.pk)),
        ("hold", cast.dispatcher, hold),
        (
            "scan_out",
            cast.keeper,
            lambda by: custody.scan_out(**by, numbers=(f"{next(days):04}",), vehicle_id=cast.van.pk, job_id=job.pk),
        ),
        (
            "record_readings",
            cast.lead,
            lambda by: drying.record_readings(
                **by, job_id=job.pk, visit_id=None, air=(AirValue("inside", 70.0, 50.0),)
            ),
        ),
    )
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA page_count")
        (pages,) = cursor.fetchone()
        cursor.execute(f"PRAGMA max_page_count = {pages + 4}")
    accepted: dict[str, list[UUID]] = {verb: [] for verb, _, _ in deeds}
    refused = 0
    for verb, who, do in itertools.islice(itertools.cycle(deeds), 400):
        key = uuid4()
        try:
            do(cast.by(who, casting.NIGHT, key))
        except OperationalError:
            refused += 1
            if refused > 8:
                break
        else:
            accepted[verb].append(key)
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA max_page_count = 1073741823")
    assert refused > 8
    assert {verb: bool(keys) for verb, keys in accepted.items()} == dict.fromkeys(accepted, True)
    assert Call.objects.count() == len(accepted["take_call"])
    assert Reservation.objects.filter(leads_reason="wet").count() == len(accepted["hold"])
    assert Move.objects.filter(why="loaded").count() == len(accepted["scan_out"])
    assert AirReading.objects.count() == len(accepted["record_readings"])
    for verb, keys in accepted.items():
        stored = UseCaseCall.objects.filter(verb=verb, outcome="done").values_list("key", flat=True)
        assert sorted(stored) == sorted(keys)
    assert audit() == ()
    custody.scan_out(**cast.by(cast.keeper), numbers=("0199",), vehicle_id=cast.van.pk, job_id=job.pk)
    assert Move.objects.filter(why="loaded").count() == len(accepted["scan_out"]) + 1
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
