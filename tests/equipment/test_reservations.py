"""What is promised: holds, and what happens to them."""

from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest

from equipment import reservations
from equipment.models import Alarm, Reservation, ReservationEntry
from jobs.due_work import run_due
from jobs.models import DueWork
from jobs.refusals import KeyReused, Unusable
from tests.equipment.cast import DAY, HOUR, NIGHT, Cast

pytestmark = pytest.mark.django_db


def hold(cast: Cast, job: object, quantity: int, *, at=NIGHT, until=NIGHT + 4 * DAY, key=None, pool=None, keep=30):
    return reservations.hold(
        **cast.by(cast.dispatcher, key=key),
        job_id=job.pk,
        wanted=((pool or cast.pool().pk, quantity),),
        starts_at=at,
        ends_at=until,
        keep_for=timedelta(minutes=keep),
        leads_reason="wet kitchen",
    )


def test_a_hold_is_refused_beyond_the_peak_and_says_when_and_where_else(cast: Cast) -> None:
    cast.units("0001", "0002", "0003")
    cast.units("0004", "0005", at=cast.south)
    hold(cast, cast.job(), 2)
    with pytest.raises(reservations.Short) as refusal:
        hold(cast, cast.job(), 2)
    (lack,) = refusal.value.data["short"]
    assert (lack["wanted"], lack["free"], lack["free_from"]) == (2, 1, NIGHT + 4 * DAY)
    assert [(e["place"], e["free"]) for e in lack["elsewhere"]] == [("South warehouse", 2)]
    assert "Mon Jan 19 10:47 PM" in refusal.value.message


def test_periods_are_half_open(cast: Cast) -> None:
    cast.units("0001")
    hold(cast, cast.job(), 1, at=NIGHT, until=NIGHT + HOUR)
    hold(cast, cast.job(), 1, at=NIGHT + HOUR, until=NIGHT + 2 * HOUR)
    with pytest.raises(reservations.Short):
        hold(cast, cast.job(), 1, at=NIGHT + HOUR - timedelta(seconds=1), until=NIGHT + HOUR)


def test_the_same_key_gives_the_first_answer_and_other_content_is_refused(cast: Cast) -> None:
    cast.units("0001")
    job, key = cast.job(), uuid4()
    first = hold(cast, job, 1, key=key)
    assert hold(cast, job, 1, key=key) == first
    with pytest.raises(KeyReused):
        hold(cast, job, 1, key=key, keep=31)
    assert Reservation.objects.count() == 1


def test_a_hold_lapses_by_an_entry_and_frees_its_units(cast: Cast) -> None:
    cast.units("0001")
    (held,) = hold(cast, cast.job(), 1).reservation_ids
    run_due(clock=lambda: NIGHT + timedelta(minutes=29))
    assert Reservation.objects.get().state == "held"
    run_due(clock=lambda: NIGHT + timedelta(minutes=31))
    assert Reservation.objects.get().state == "expired"
    assert list(ReservationEntry.objects.values_list("kind", flat=True).order_by("id")) == ["hold", "expire"]
    hold(cast, cast.job(), 1)
    with pytest.raises(Exception, match="already lapsed"):
        reservations.confirm_hold(**cast.by(cast.dispatcher), reservation_id=held)


def test_a_confirmed_hold_does_not_lapse(cast: Cast) -> None:
    cast.units("0001")
    (held,) = hold(cast, cast.job(), 1).reservation_ids
    reservations.confirm_hold(**cast.by(cast.dispatcher), reservation_id=held)
    run_due(clock=lambda: NIGHT + DAY)
    assert Reservation.objects.get().state == "confirmed"
    assert not DueWork.objects.filter(kind="equipment.expire_hold", state="pending").exists()


def test_extending_is_checked_without_counting_itself(cast: Cast) -> None:
    cast.units("0001", "0002")
    (mine,) = hold(cast, cast.job(), 2, until=NIGHT + DAY).reservation_ids
    hold(cast, cast.job(), 1, at=NIGHT + 2 * DAY, until=NIGHT + 3 * DAY)
    longer = reservations.extend_hold(**cast.by(cast.dispatcher), reservation_id=mine, ends_at=NIGHT + 2 * DAY)
    assert longer.ends_at == NIGHT + 2 * DAY
    with pytest.raises(reservations.Short):
        reservations.extend_hold(**cast.by(cast.dispatcher), reservation_id=mine, ends_at=NIGHT + 2 * DAY + HOUR)
    shorter = reservations.shorten_hold(**cast.by(cast.dispatcher), reservation_id=mine, quantity=1)
    assert shorter.quantity == 1
    reservations.extend_hold(**cast.by(cast.dispatcher), reservation_id=mine, ends_at=NIGHT + 3 * DAY)


def test_a_promise_whose_period_is_over_closes_itself(cast: Cast) -> None:
    cast.units("0001")
    (mine,) = hold(cast, cast.job(), 1, until=NIGHT + DAY).reservation_ids
    reservations.confirm_hold(**cast.by(cast.dispatcher), reservation_id=mine)
    run_due(clock=lambda: NIGHT + DAY)
    assert Reservation.objects.get().state == "closed"
    assert not Alarm.objects.exists()


def test_a_vehicle_in_the_workshop_counts_for_nothing(cast: Cast) -> None:
    cast.units("0001", at=cast.van)
    pool = cast.pool(at=cast.van).pk
    hold(cast, cast.job(), 1, pool=pool, until=NIGHT + HOUR)
    cast.van.in_workshop = True
    cast.van.save()
    with pytest.raises(reservations.Short):
        hold(cast, cast.job(), 1, pool=pool, at=NIGHT + 2 * HOUR)


@pytest.mark.parametrize(
    ("change", "where"),
    [
        ({"quantity": 0}, "wanted"),
        ({"until": NIGHT}, "ends_at"),
        ({"until": datetime.max.replace(tzinfo=UTC)}, "ends_at"),
        ({"at": NIGHT + 900 * DAY, "until": NIGHT + 901 * DAY}, "starts_at"),
        ({"keep": 0}, "keep_for"),
        ({"keep": 10**7}, "keep_for"),
    ],
)
def test_what_cannot_be_meant_is_refused_with_its_field(cast: Cast, change: dict, where: str) -> None:
    cast.units("0001")
    with pytest.raises(Unusable) as refusal:
        hold(cast, cast.job(), **{"quantity": 1, **change})
    assert refusal.value.where == where
