"""Transfers, rented units, counts, closing: what else happens on the floor."""

from datetime import timedelta

import pytest

from equipment import closing, custody, reservations
from equipment.audit import audit
from equipment.models import Alarm, Discrepancy, Reservation, Unit
from jobs.due_work import run_due
from jobs.models import Job
from jobs.refusals import Unusable
from tests.equipment.cast import DAY, HOUR, NIGHT, Cast

pytestmark = pytest.mark.django_db


def test_a_transfer_is_on_the_road_until_received_and_names_what_is_missing(cast: Cast) -> None:
    cast.units("0001", "0002", "0003")
    custody.send_transfer(
        **cast.by(cast.keeper),
        numbers=("1", "2"),
        from_warehouse_id=cast.north.pk,
        to_warehouse_id=cast.south.pk,
    )
    assert (cast.pool().stock, cast.pool(at=cast.south).stock) == (1, 0)
    assert str(cast.now("0001").holder) == "on the road to South warehouse"
    arrived = custody.receive_transfer(
        **cast.by(cast.keeper, NIGHT + HOUR), numbers=("1", "3"), warehouse_id=cast.south.pk
    )
    assert arrived.missing == ("0002",)
    assert arrived.discrepancies == 1  # 0003 was never sent
    assert cast.pool(at=cast.south).stock == 2
    assert audit() == ()


def test_a_rented_unit_comes_works_and_is_called_off(cast: Cast) -> None:
    custody.rent_in(
        **cast.by(cast.keeper),
        model_id=cast.dehumidifier.pk,
        warehouse_id=cast.north.pk,
        supplier="Quarry Street Rental",
        units=(("r12", "QS-4471"),),
        daily_cost=42.5,
    )
    assert cast.pool(cast.dehumidifier).stock == 1
    job = cast.job()
    custody.scan_out(**cast.by(cast.keeper), numbers=("R12",), vehicle_id=cast.van.pk, job_id=job.pk)
    custody.place_units(**cast.by(cast.lead, NIGHT + HOUR), job_id=job.pk, room_name="hall", numbers=("R12",))
    late = NIGHT + DAY
    with pytest.raises(Exception, match="still stands at job"):
        custody.call_off(**cast.by(cast.keeper, late), numbers=("R12",), call_off_number="CO-7")
    custody.take_up_units(**cast.by(cast.lead, late), job_id=job.pk, vehicle_id=cast.van.pk, numbers=("R12",))
    with pytest.raises(Unusable, match="call-off number"):
        custody.call_off(**cast.by(cast.keeper, late), numbers=("R12",), call_off_number=" ")
    custody.call_off(**cast.by(cast.keeper, late), numbers=("R12",), call_off_number="CO-7")
    unit = Unit.objects.get(number="R12")
    assert (unit.call_off_number, unit.called_off_at, unit.supplier_number) == ("CO-7", late, "QS-4471")
    assert str(cast.now("R12").holder) == "Quarry Street Rental"
    assert audit() == ()
    cast.units("0001")
    with pytest.raises(custody.NotRented):
        custody.call_off(**cast.by(cast.keeper, late), numbers=("1",), call_off_number="CO-8")


def test_counting_a_van_brings_what_is_there_and_names_what_is_not(cast: Cast) -> None:
    cast.units("0001", "0002", at=cast.van)
    cast.units("0003")
    counted = custody.count_units(
        **cast.by(cast.lead, NIGHT), numbers=("1", "3"), vehicle_id=cast.van.pk, whole_place=True
    )
    assert (counted.seen, [scan.number for scan in counted.brought_here], counted.missing) == (1, ["0003"], ("0002",))
    assert str(cast.now("0002").holder) == "Van 1"
    custody.not_found(**cast.by(cast.keeper, NIGHT + HOUR), numbers=("2",))
    assert (cast.pool(at=cast.van).stock, cast.now("0002").pool) == (2, None)
    assert Discrepancy.objects.filter(settled_at=None).count() == 2
    custody.scan_in(**cast.by(cast.keeper, NIGHT + DAY), numbers=("2",), warehouse_id=cast.north.pk)
    difference = Discrepancy.objects.get(settled_at=None)
    custody.settle_discrepancy(
        **cast.by(cast.keeper, NIGHT + DAY), discrepancy_id=difference.pk, explanation="lent at the yard"
    )
    assert not Discrepancy.objects.filter(settled_at=None).exists()
    assert audit() == ()


def test_a_job_with_a_unit_on_it_is_not_closed(cast: Cast) -> None:
    cast.units("0001", "0002", "0003")
    job = cast.job()
    promise = reservations.hold(
        **cast.by(cast.dispatcher),
        job_id=job.pk,
        wanted=((cast.pool().pk, 2),),
        starts_at=NIGHT,
        ends_at=NIGHT + 3 * DAY,
        keep_for=HOUR,
        leads_reason="wet",
    ).reservation_ids[0]
    custody.scan_out(**cast.by(cast.keeper), numbers=("1",), vehicle_id=cast.van.pk, job_id=job.pk)
    custody.place_units(**cast.by(cast.lead), job_id=job.pk, room_name="hall", numbers=("1",))
    with pytest.raises(closing.UnitsStillThere) as there:
        closing.close_job(**cast.by(cast.dispatcher, NIGHT + DAY), job_id=job.pk)
    assert there.value.data["numbers"] == ["0001"]
    assert Job.objects.get(pk=job.pk).stage != "closed"
    custody.take_up_units(**cast.by(cast.lead, NIGHT + DAY), job_id=job.pk, vehicle_id=cast.van.pk, numbers=("1",))
    closed = closing.close_job(**cast.by(cast.dispatcher, NIGHT + DAY), job_id=job.pk)
    assert closed.released == (promise,)
    assert (Job.objects.get(pk=job.pk).stage, Reservation.objects.get(pk=promise).state) == ("closed", "released")
    custody.place_units(**cast.by(cast.lead, NIGHT + 2 * DAY), job_id=job.pk, room_name="hall", numbers=("2",))
    assert "which is closed" in Alarm.objects.get(kind="custody").text
    assert audit() == ()


def test_units_still_out_after_their_period_run_on_and_are_shown(cast: Cast) -> None:
    cast.units("0001")
    first, second = cast.job(), cast.job()

    def held(job: Job, start: timedelta, end: timedelta) -> int:
        return reservations.hold(
            **cast.by(cast.dispatcher),
            job_id=job.pk,
            wanted=((cast.pool().pk, 1),),
            starts_at=NIGHT + start,
            ends_at=NIGHT + end,
            keep_for=HOUR,
            leads_reason="wet",
        ).reservation_ids[0]

    mine = held(first, timedelta(0), DAY)
    theirs = held(second, DAY, 2 * DAY)
    reservations.confirm_hold(**cast.by(cast.dispatcher), reservation_id=theirs)
    custody.scan_out(**cast.by(cast.keeper), numbers=("1",), vehicle_id=cast.van.pk, job_id=first.pk)
    custody.place_units(**cast.by(cast.lead), job_id=first.pk, room_name="hall", numbers=("1",))
    run_due(clock=lambda: NIGHT + DAY + HOUR)
    promise = Reservation.objects.get(pk=mine)
    assert (promise.state, promise.ends_at) == ("confirmed", NIGHT + 2 * DAY + HOUR)
    assert [entry.kind for entry in promise.entries.order_by("pk")][-1] == "overrun"
    assert Alarm.objects.filter(kind="over_promised").count() == 1
    assert audit() == ()
