"""Phones that were without a network send late and in any order: what is left at the end is the true order, once."""

from itertools import permutations
from typing import Any
from uuid import UUID, uuid5

import pytest
from django.db import transaction

from equipment import custody
from equipment.audit import audit
from equipment.models import Alarm, Move, Reservation
from jobs.models import Job
from tests.equipment import cast as casting
from tests.equipment.cast import DAY, HOUR, NIGHT, Cast

pytestmark = pytest.mark.django_db
LATE = {"already_happened": True}


@pytest.fixture
def cast(db: None) -> Cast:
    made = casting.make()
    made.units("0001")
    return made


def steps_of(cast: Cast, job: Job) -> list[tuple[Any, Any, dict[str, Any]]]:
    """Loaded, placed, taken up and brought in again, an hour apart."""
    return [
        (custody.scan_out, cast.keeper, {"vehicle_id": cast.van.pk, "job_id": job.pk, **LATE}),
        (custody.place_units, cast.lead, {"job_id": job.pk, "room_name": "hall", "vehicle_id": cast.van.pk}),
        (custody.take_up_units, cast.lead, {"job_id": job.pk, "vehicle_id": cast.van.pk}),
        (custody.scan_in, cast.keeper, {"warehouse_id": cast.north.pk, **LATE}),
    ]


def send(cast: Cast, job: Job, *order: int) -> None:
    steps = steps_of(cast, job)
    for n in order:
        do, who, given = steps[n]
        key = uuid5(UUID(int=job.pk), str(n))
        do(**cast.by(who, NIGHT + DAY, key), numbers=("0001",), happened_at=NIGHT + (n + 1) * HOUR, **given)


def books(cast: Cast) -> dict[str, Any]:
    now = cast.now("0001")
    live = Reservation.objects.filter(state__in=["held", "confirmed"])
    return {
        "where": str(now.holder),
        "how": (now.condition, now.water_category, now.since),
        "stock": cast.pool().stock,
        "promised": list(live.values_list("drawn", "quantity")),
        "audit": audit(),
    }


@pytest.mark.parametrize(("category", "condition"), [(1, "not_yet_cleaned"), (3, "held_back")])
def test_in_whatever_order_four_moves_arrive(cast: Cast, category: int, condition: str) -> None:
    job, found = cast.job(category=category), {}
    for order in permutations(range(4)):
        with transaction.atomic():
            send(cast, job, *order)
            send(cast, job, *reversed(order))  # all of it once more, with the same keys
            found[order] = books(cast)
            transaction.set_rollback(True)
    right = {
        "where": "North warehouse",
        "how": (condition, category, NIGHT + 4 * HOUR),
        "stock": 0,
        "promised": [],
        "audit": (),
    }
    assert {order: seen for order, seen in found.items() if seen != right} == {}


def test_what_was_cleaned_since_stays_ready(cast: Cast) -> None:
    job = cast.job(category=3)
    send(cast, job, 0, 2, 3)
    steps = ("decontaminated", "filter_changed", "tested")
    done = {"numbers": ("1",), "condition": "ready", "steps": steps, "happened_at": NIGHT + 6 * HOUR}
    custody.set_condition(**cast.by(cast.keeper, NIGHT + DAY), **done)
    send(cast, job, 1)
    assert (cast.now("0001").condition, cast.pool().stock, audit()) == ("ready", 1, ())


def test_sewage_that_becomes_known_late_is_called_out_wherever_the_unit_went(cast: Cast) -> None:
    """Brought in as if it had never run, and loaded again: then the phone of the first crew finds a network."""
    sewage, following = cast.job(category=3), cast.job(category=1)
    send(cast, sewage, 0, 3)
    assert cast.now("0001").condition == "ready"
    load = {"numbers": ("1",), "vehicle_id": cast.van.pk, "job_id": following.pk}
    custody.scan_out(**cast.by(cast.keeper, NIGHT + DAY), **load, happened_at=NIGHT + 5 * HOUR)
    send(cast, sewage, 1)
    now = cast.now("0001")
    assert (str(now.holder), now.condition, now.water_category, now.reservation) == ("Van 1", "held_back", 3, None)
    alarm = Alarm.objects.get(kind="not_decontaminated")
    assert "Unit 0001 ran in category 3 water and went out again to Van 1" in alarm.text
    correction = Move.objects.get(why="correction")
    assert correction.corrects is not None
    assert (correction.corrects.condition_after, correction.actor, correction.note) == (
        "ready",
        cast.lead,
        "it ran before, recorded late: not clean",
    )
    assert audit() == ()


def test_two_phones_that_scan_one_unit_load_it_once(cast: Cast) -> None:
    job = cast.job()
    for minutes, who in ((5, cast.keeper), (0, cast.manager)):
        given = {"numbers": ("1",), "vehicle_id": cast.van.pk, "job_id": job.pk, **LATE}
        custody.scan_out(**cast.by(who, NIGHT + DAY), **given, happened_at=NIGHT + HOUR + minutes * HOUR / 60)
    now = cast.now("0001")
    assert (str(now.holder), now.reservation.drawn, now.reservation.quantity) == ("Van 1", 1, 1)
    assert audit() == ()
