"""The audit finds nothing after honest work, and names every kind of tampering."""

from collections.abc import Callable, Iterator
from datetime import timedelta

import pytest
from django.core.management import call_command
from django.db import DatabaseError, transaction

from equipment import custody, reservations
from equipment.audit import NIGHTLY, audit, schedule
from equipment.models import Alarm, Move, Pool, Reservation, ReservationEntry, UnitNow
from jobs import guards
from jobs.due_work import run_due
from jobs.models import DueWork
from tests.equipment.cast import DAY, HOUR, NIGHT, Cast

pytestmark = pytest.mark.django_db


@pytest.fixture
def worked(cast: Cast) -> Cast:
    """A night: a hold, a load, a placing, a pick-up, a late entry, a correction, a cleaning, a break."""
    cast.units("0001", "0002", "0003")
    cast.units("0004", at=cast.van)
    job = cast.job()
    (promise,) = reservations.hold(
        **cast.by(cast.dispatcher),
        job_id=job.pk,
        wanted=((cast.pool().pk, 2),),
        starts_at=NIGHT,
        ends_at=NIGHT + 2 * DAY,
        keep_for=HOUR,
        leads_reason="wet hall",
    ).reservation_ids
    reservations.confirm_hold(**cast.by(cast.dispatcher), reservation_id=promise)
    custody.scan_out(**cast.by(cast.keeper), numbers=("1", "2"), vehicle_id=cast.van.pk, job_id=job.pk)
    placed = custody.place_units(
        **cast.by(cast.lead, NIGHT + HOUR), job_id=job.pk, room_name="hall", numbers=("1", "2", "4")
    )
    custody.correct_move(
        **cast.by(cast.keeper, NIGHT + HOUR),
        move_id=placed.scans[0].move_id,
        job_id=job.pk,
        room_name="den",
        reason="wrong room",
    )
    custody.take_up_units(**cast.by(cast.lead, NIGHT + DAY), job_id=job.pk, vehicle_id=cast.van.pk, numbers=("1",))
    custody.move_units(
        **cast.by(cast.lead, NIGHT + DAY),
        numbers=("2",),
        to_job_id=job.pk,
        room_name="attic",
        happened_at=NIGHT + timedelta(minutes=30),
    )
    custody.scan_in(**cast.by(cast.keeper, NIGHT + DAY), numbers=("1",), warehouse_id=cast.south.pk)
    custody.set_condition(
        **cast.by(cast.keeper, NIGHT + DAY), numbers=("1",), condition="ready", steps=("cleaned", "tested")
    )
    custody.set_condition(**cast.by(cast.keeper), numbers=("3",), condition="broken", in_repair=True)
    return cast


@pytest.fixture
def unguarded(worked: Cast) -> Iterator[Cast]:
    guards.remove()
    yield worked
    guards.install()


def test_honest_work_leaves_no_difference(worked: Cast) -> None:
    assert audit() == ()
    call_command("audit_ledgers")


def test_a_meter_given_as_a_whole_number_leaves_no_difference(cast: Cast) -> None:
    cast.units("1001", hour_meter=100)
    assert not audit()


@pytest.mark.parametrize("model", [Move, ReservationEntry])
def test_entries_are_never_changed_or_deleted(worked: Cast, model: type) -> None:
    for deed in (
        lambda: model.objects.all().update(key=None),
        lambda: model.objects.order_by("-pk")[:1].get().delete(),
    ):
        with pytest.raises(DatabaseError, match="never changed or deleted"), transaction.atomic():
            deed()


def move_of(number: str, why: str) -> Move:
    return Move.objects.filter(unit__number=number, why=why).order_by("pk")[0]


TAMPERING: dict[str, tuple[Callable[[], object], str, str]] = {
    "a unit's row says another place": (
        lambda: UnitNow.objects.filter(unit__number="0001").update(holder_id=move_of("0004", "opening").to_holder_id),
        "unit",
        "holder",
    ),
    "a unit's row says another state": (
        lambda: UnitNow.objects.filter(unit__number="0003").update(condition="ready"),
        "unit",
        "condition",
    ),
    "a unit counts in another stock": (
        lambda: UnitNow.objects.filter(unit__number="0001").update(pool=Pool.objects.order_by("pk")[0]),
        "unit",
        "pool",
    ),
    "stock is raised": (lambda: Pool.objects.filter(stock=1).update(stock=2), "pool", "stock"),
    "an old entry says another place": (
        lambda: Move.objects.filter(pk=move_of("0001", "loaded").pk).update(
            to_holder=move_of("0001", "opening").to_holder
        ),
        "unit",
        "changed",
    ),
    "an old entry says another time": (
        lambda: Move.objects.filter(pk=move_of("0001", "loaded").pk).update(happened_at=NIGHT - HOUR),
        "unit",
        "changed",
    ),
    "an old entry's author is another": (
        lambda: Move.objects.filter(pk=move_of("0001", "taken_up").pk).update(actor=move_of("0001", "opening").actor),
        "unit",
        "changed",
    ),
    "an entry in the middle is gone": (lambda: move_of("0001", "taken_up").delete(), "unit", "missing"),
    "the last entry is gone": (
        lambda: Move.objects.filter(unit__number="0001").order_by("-pk")[0].delete(),
        "unit",
        "last entry",
    ),
    "a promise's row promises more": (
        lambda: Reservation.objects.filter(state="confirmed").update(quantity=9),
        "promise",
        "quantity",
    ),
    "a promise's row ends later": (
        lambda: Reservation.objects.filter(state="confirmed").update(ends_at=NIGHT + 9 * DAY),
        "promise",
        "ends_at",
    ),
    "a promise is another job's reason": (
        lambda: Reservation.objects.filter(state="confirmed").update(leads_reason="because"),
        "promise",
        "changed",
    ),
    "an entry of a promise is changed": (
        lambda: ReservationEntry.objects.filter(kind="hold").update(quantity=7),
        "promise",
        "changed",
    ),
    "an entry of a promise is gone": (
        lambda: ReservationEntry.objects.filter(kind="confirm")[0].delete(),
        "promise",
        "missing",
    ),
    "a drawing is gone": (
        lambda: ReservationEntry.objects.order_by("-pk")[0].delete(),
        "promise",
        "last entry",
    ),
}


@pytest.mark.parametrize("kind", TAMPERING)
def test_tampering_is_named(unguarded: Cast, kind: str) -> None:
    deed, what, where = TAMPERING[kind]
    deed()
    found = audit()
    assert any(difference.what == what and where in difference.where for difference in found), found
    with pytest.raises(SystemExit) as exit_:
        call_command("audit_ledgers")
    assert exit_.value.code == 1


def test_the_nightly_audit_raises_an_alarm_and_sets_the_next(unguarded: Cast) -> None:
    schedule(now=NIGHT)
    schedule(now=NIGHT)
    run_due(clock=lambda: NIGHT + DAY)
    assert not Alarm.objects.filter(kind="audit").exists()
    Pool.objects.filter(stock=1).update(stock=2)
    run_due(clock=lambda: NIGHT + 2 * DAY)
    assert "do not agree" in Alarm.objects.get(kind="audit").text
    assert DueWork.objects.filter(kind=NIGHTLY, state="pending").count() == 1
