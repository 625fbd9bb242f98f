"""Units moved in one call: what is left is as if they had come one by one, with few statements for each."""

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from equipment import custody, reservations
from equipment.audit import audit
from equipment.models import Move, Reservation, ReservationEntry, UnitNow
from equipment.reservations.book import END, EXPIRE
from jobs.models import Job
from jobs.models.due_work import DueWork
from tests.equipment.cast import DAY, HOUR, NIGHT, Cast

pytestmark = pytest.mark.django_db
NUMBERS = tuple(f"{number:04}" for number in range(1, 13))


def out_and_back(cast: Cast, job: Job, numbers: tuple[str, ...]) -> None:
    """Onto the van, into the hall, up again, back in."""
    custody.scan_out(**cast.by(cast.keeper), numbers=numbers, vehicle_id=cast.van.pk, job_id=job.pk)
    custody.place_units(**cast.by(cast.lead, NIGHT + HOUR), job_id=job.pk, room_name="hall", numbers=numbers)
    by = cast.by(cast.lead, NIGHT + DAY)
    custody.take_up_units(**by, job_id=job.pk, vehicle_id=cast.van.pk, numbers=numbers[:-1])
    custody.scan_in(**cast.by(cast.keeper, NIGHT + DAY + HOUR), numbers=numbers[:-1], warehouse_id=cast.north.pk)


def left(job: Job) -> dict[str, Any]:
    """Everything that both ledgers and the timers say of a job's units and promises, without ids."""
    promises = Reservation.objects.filter(job=job)
    entries = ReservationEntry.objects.filter(reservation__job=job)
    moved = Move.objects.filter(reservation__job=job).values_list("unit", flat=True)
    timers = [f"{kind}:{pk}" for pk in promises.values_list("pk", flat=True) for kind in (EXPIRE, END)]
    return {
        "promises": list(promises.order_by("pk").values_list("state", "quantity", "drawn", "starts_at", "ends_at")),
        "entries": sorted(entries.values_list("kind", "quantity", "drawn")),
        "moves": sorted(Move.objects.filter(unit__in=moved).values_list("why", "to_holder__kind", "condition_after")),
        "units": sorted(UnitNow.objects.filter(unit__in=moved).values_list("condition", "holder__kind", "room_name")),
        "timers": sorted(DueWork.objects.filter(coalesce__in=timers).values_list("state", "due_at")),
    }


@pytest.mark.parametrize("held", [0, 3, 6])
def test_together_is_as_one_by_one(cast: Cast, held: int) -> None:
    """With more units than were held, as many, and fewer."""
    cast.units(*NUMBERS)
    jobs = cast.job(), cast.job()
    terms = {"starts_at": NIGHT, "ends_at": NIGHT + 3 * DAY, "keep_for": HOUR, "leads_reason": "wet"}
    for job in jobs:
        if held:
            reservations.hold(**cast.by(cast.dispatcher), job_id=job.pk, wanted=((cast.pool().pk, held),), **terms)
    at_once, singly = NUMBERS[:5], NUMBERS[5:10]
    out_and_back(cast, jobs[0], at_once)
    for number in singly:
        custody.scan_out(**cast.by(cast.keeper), numbers=(number,), vehicle_id=cast.van.pk, job_id=jobs[1].pk)
    for number in singly:
        by = cast.by(cast.lead, NIGHT + HOUR)
        custody.place_units(**by, job_id=jobs[1].pk, room_name="hall", numbers=(number,))
    for number in singly[:-1]:
        by = cast.by(cast.lead, NIGHT + DAY)
        custody.take_up_units(**by, job_id=jobs[1].pk, vehicle_id=cast.van.pk, numbers=(number,))
    for number in singly[:-1]:
        by = cast.by(cast.keeper, NIGHT + DAY + HOUR)
        custody.scan_in(**by, numbers=(number,), warehouse_id=cast.north.pk)
    assert left(jobs[0]) == left(jobs[1])
    assert audit() == ()


def test_each_further_unit_costs_one_statement(cast: Cast) -> None:
    cast.units(*NUMBERS)
    job = cast.job()
    terms = {"starts_at": NIGHT, "ends_at": NIGHT + 3 * DAY, "keep_for": HOUR, "leads_reason": "wet"}
    reservations.hold(**cast.by(cast.dispatcher), job_id=job.pk, wanted=((cast.pool().pk, 12),), **terms)
    asked = []
    for numbers in (NUMBERS[:1], NUMBERS[1:3], NUMBERS[3:12]):
        with CaptureQueriesContext(connection) as queries:
            custody.scan_out(**cast.by(cast.keeper), numbers=numbers, vehicle_id=cast.van.pk, job_id=job.pk)
        asked.append(len(queries))
    assert asked[2] - asked[1] == 7


def test_a_hold_and_a_scan_ask_the_database_this_often(cast: Cast) -> None:
    """Among them both ends of the transaction, the roles of who asks, the areas of what is named, a loan's hours."""
    cast.units(*NUMBERS)
    job = cast.job()
    terms = {"starts_at": NIGHT, "ends_at": NIGHT + 3 * DAY, "keep_for": HOUR, "leads_reason": "wet"}
    with CaptureQueriesContext(connection) as hold:
        reservations.hold(**cast.by(cast.dispatcher), job_id=job.pk, wanted=((cast.pool().pk, 4),), **terms)
    asked = []
    for number in NUMBERS[:3]:
        with CaptureQueriesContext(connection) as scan:
            custody.scan_out(**cast.by(cast.keeper), numbers=(number,), vehicle_id=cast.van.pk, job_id=job.pk)
        asked.append(len(scan))
    # PostgreSQL is told how long to wait for a lock, locks units before it reads them, and takes new rows of several
    # tables in one statement.
    assert (len(hold), asked[2]) == ((16, 18) if connection.vendor == "postgresql" else (17, 15))
