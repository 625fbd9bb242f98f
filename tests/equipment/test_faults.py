"""Whatever statement a use case dies at, both ledgers are as before it, and doing it again does it once."""

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.db import DatabaseError, connection
from django.db.transaction import TransactionManagementError

from equipment import closing, custody, reservations
from equipment.audit import audit
from equipment.models import Move, Pool, Reservation, ReservationEntry, UnitNow
from tests.equipment import cast as casting
from tests.equipment.cast import DAY, HOUR, NIGHT, Cast

ROOT = Path(__file__).resolve().parents[2]


class Death(DatabaseError):
    """What stands for the end of the process."""


class DieAt:
    """Lets so many statements through, then dies."""

    def __init__(self, statements: int) -> None:
        self.left = statements

    def __call__(self, execute: Callable[..., Any], *rest: Any) -> Any:
        self.left -= 1
        if self.left == -1:  # once: the rollback that follows is the database's own when a process really dies
            raise Death
        return execute(*rest)


def snapshot() -> tuple[Any, ...]:
    """Everything that the ledgers say."""
    return tuple(
        tuple(model.objects.order_by("pk").values_list())
        for model in (Move, UnitNow, Pool, Reservation, ReservationEntry)
    )


def deeds(cast: Cast) -> dict[str, Callable[..., Any]]:
    """Each use case that writes both ledgers, on a night that has something for it to do."""
    cast.units("0001", "0002", "0003")
    job, other = cast.job(), cast.job()
    pool = cast.pool().pk
    terms = {"starts_at": NIGHT, "ends_at": NIGHT + 3 * DAY, "keep_for": HOUR, "leads_reason": "wet"}
    first = reservations.hold(**cast.by(cast.dispatcher), job_id=job.pk, wanted=((pool, 2),), **terms)
    custody.scan_out(**cast.by(cast.keeper), numbers=("1", "2"), vehicle_id=cast.van.pk, job_id=job.pk)
    custody.place_units(**cast.by(cast.lead), job_id=job.pk, room_name="hall", numbers=("1",))
    late = NIGHT + HOUR
    return {
        "hold": lambda key: reservations.hold(
            **cast.by(cast.dispatcher, late, key), job_id=other.pk, wanted=((pool, 1),), **terms
        ),
        "extend": lambda key: reservations.extend_hold(
            **cast.by(cast.dispatcher, late, key), reservation_id=first.reservation_ids[0], quantity=3
        ),
        "load": lambda key: custody.scan_out(
            **cast.by(cast.keeper, late, key), numbers=("3",), vehicle_id=cast.van.pk, job_id=other.pk
        ),
        "place": lambda key: custody.place_units(
            **cast.by(cast.lead, late, key), job_id=other.pk, room_name="den", numbers=("2",)
        ),
        "take up": lambda key: custody.take_up_units(
            **cast.by(cast.lead, late, key), job_id=job.pk, vehicle_id=cast.van.pk, numbers=("1",)
        ),
        "close": lambda key: closing.close_job(**cast.by(cast.dispatcher, late, key), job_id=other.pk),
    }


@pytest.mark.django_db
@pytest.mark.parametrize("deed", ["hold", "extend", "load", "place", "take up", "close"])
def test_dying_at_any_statement_changes_nothing(cast: Cast, deed: str) -> None:
    do, key = deeds(cast)[deed], uuid4()
    before, statements = snapshot(), 0
    while True:
        try:
            with connection.execute_wrapper(DieAt(statements)):
                do(key)
            break
        except (Death, TransactionManagementError):
            assert snapshot() == before, f"died at statement {statements}"
            statements += 1
    assert statements > 5
    assert audit() == ()
    after = snapshot()
    do(key)
    assert snapshot() == after


KILLED = """
import json, os, sys, django
django.setup()
from uuid import UUID
from datetime import datetime
from django.contrib.auth.models import User
from django.db import DatabaseError, connection
from django.db.transaction import TransactionManagementError
from equipment import custody
left = int(sys.argv[1])
def wrap(execute, *rest):
    global left
    if left == 0:
        os.kill(os.getpid(), 9)
    left -= 1
    return execute(*rest)
with connection.execute_wrapper(wrap):
    custody.scan_out(key=UUID(sys.argv[2]), actor=User.objects.get(username="warehouse"),
                     now=datetime.fromisoformat(sys.argv[3]), **json.loads(sys.argv[4]))
"""


@pytest.mark.long
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("statements", range(4, 44, 5))
def test_kill_9_leaves_both_ledgers_clean(child_environment: dict[str, str], statements: int) -> None:
    cast = casting.make()
    cast.units("0001", "0002")
    job, key, before = cast.job(), str(uuid4()), snapshot()
    given = {"numbers": ["0001", "0002"], "vehicle_id": cast.van.pk, "job_id": job.pk}
    command = [sys.executable, "-c", KILLED]
    environment = {**os.environ, **child_environment, "DJANGO_SETTINGS_MODULE": "config.settings"}

    def load(limit: int) -> int:
        arguments = [str(limit), key, NIGHT.isoformat(), json.dumps(given)]
        return subprocess.run([*command, *arguments], cwd=ROOT, env=environment, check=False).returncode

    killed = load(statements)
    assert killed in {0, -9}
    if killed:
        assert snapshot() == before
    assert audit() == ()
    assert load(10_000) == 0
    assert Move.objects.filter(why="loaded").count() == 2
    assert audit() == ()
