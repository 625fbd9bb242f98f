"""What was counted, missed, rented, called off or serviced without a network settles by when it happened."""

from datetime import timedelta

import pytest

from equipment import counted, custody, places, selectors
from equipment.audit import audit
from equipment.custody.rental import NotRented
from equipment.models import Alarm, CountedStock, Discrepancy, Service, Unit
from equipment.service import record_service
from tests.equipment.cast import DAY, HOUR, NIGHT, Cast

pytestmark = pytest.mark.django_db
CORD = "Cord 50 ft"


def test_a_late_count_sees_what_has_left_since_and_finds_what_was_elsewhere(cast: Cast) -> None:
    cast.units("0001", "0002")
    cast.units("0003", at=cast.van)
    custody.scan_out(**cast.by(cast.keeper, NIGHT + 2 * HOUR), numbers=("0001",), vehicle_id=cast.van.pk)
    told = custody.count_units(
        **cast.by(cast.lead, NIGHT + 5 * HOUR),
        numbers=("0001", "0002", "0003"),
        warehouse_id=cast.north.pk,
        happened_at=NIGHT + HOUR,
    )

    assert (told.seen, [scan.number for scan in told.brought_here]) == (2, ["0003"])
    assert str(cast.now("0001").holder) == "Van 1"
    assert cast.now("0002").seen_at == NIGHT + HOUR
    assert (str(cast.now("0003").holder), cast.now("0003").since) == ("North warehouse", NIGHT + HOUR)
    assert Discrepancy.objects.count() == 1
    assert audit() == ()


def test_a_unit_that_was_scanned_after_it_was_missed_is_not_missing(cast: Cast) -> None:
    cast.units("0001", "0002")
    custody.scan_out(**cast.by(cast.keeper, NIGHT + 2 * HOUR), numbers=("0001",), vehicle_id=cast.van.pk)
    told = custody.not_found(
        **cast.by(cast.keeper, NIGHT + 5 * HOUR), numbers=("0001", "0002"), happened_at=NIGHT + HOUR
    )

    assert [scan.word for scan in told.scans] == ["seen_since", "not_found"]
    assert [str(cast.now(number).holder.kind) for number in ("0001", "0002")] == ["vehicle", "not_found"]
    assert cast.now("0002").since == NIGHT + HOUR
    assert audit() == ()


def test_the_charge_runs_from_when_it_came_to_when_it_was_called_off_once(cast: Cast) -> None:
    late = NIGHT + 3 * DAY
    renting = {"supplier": "Quarry Street Rental", "units": (("R1", "77"),), "daily_cost": 40.0}
    where = {"model_id": cast.dehumidifier.pk, "warehouse_id": cast.north.pk}
    custody.rent_in(**cast.by(cast.keeper, late), **renting, **where, happened_at=NIGHT)
    off = {"numbers": ("R1",), "call_off_number": "CO-1", "happened_at": NIGHT + DAY + HOUR}
    custody.call_off(**cast.by(cast.keeper, late), **off)

    (unit,) = selectors.rentals(area_id=cast.area.pk, now=late).called_off
    assert (unit.days, unit.called_off_at) == (2, NIGHT + DAY + HOUR)
    with pytest.raises(NotRented, match="called off before, under CO-1"):
        custody.call_off(**cast.by(cast.manager, late), numbers=("R1",), call_off_number="CO-2")
    assert Unit.objects.get(number="R1").call_off_number == "CO-1"
    assert audit() == ()


def test_of_two_services_the_later_one_counts_whichever_came_first(cast: Cast) -> None:
    cast.units("0001", model=cast.dehumidifier, hour_meter=100)
    record_service(**cast.by(cast.keeper, NIGHT + 2 * HOUR), number="1", hour_meter=120)
    record_service(**cast.by(cast.keeper, NIGHT + 3 * HOUR), number="1", hour_meter=110, happened_at=NIGHT + HOUR)
    assert list(Service.objects.order_by("at").values_list("hour_meter", flat=True)) == [110, 120]


def test_items_counted_late_keep_what_happened_since_and_a_later_count_stands(cast: Cast) -> None:
    here = places.holder_for_warehouse(cast.north.pk)
    row = CountedStock.objects.create(place=here, item=CORD, quantity=60, counted_at=NIGHT)
    at = {"place_id": here.pk, "item": CORD}
    counted.take_counted(**cast.by(cast.keeper, NIGHT + 4 * HOUR), **at, quantity=5)
    late = cast.by(cast.lead, NIGHT + 5 * HOUR)
    counted.count_counted(**late, place_id=here.pk, counts=((CORD, 50),), happened_at=NIGHT + 2 * HOUR)
    row.refresh_from_db()
    assert (row.quantity, row.counted_at) == (45, NIGHT + 2 * HOUR)

    before = cast.by(cast.lead, NIGHT + 6 * HOUR)
    said = counted.take_counted(**before, **at, quantity=9, happened_at=NIGHT + HOUR)
    assert (said.quantity, said.caution) == (45, "It was counted here since then; that count stands.")
    older = cast.by(cast.lead, NIGHT + 6 * HOUR)
    counted.count_counted(**older, place_id=here.pk, counts=((CORD, 7),), happened_at=NIGHT + HOUR)
    row.refresh_from_db()
    assert (row.quantity, row.counted_at) == (45, NIGHT + 2 * HOUR)


def test_below_the_least_the_desk_is_told_once_until_there_are_enough(cast: Cast) -> None:
    here = places.holder_for_warehouse(cast.north.pk)
    CountedStock.objects.create(place=here, item=CORD, quantity=5, minimum=4, counted_at=NIGHT)
    at = {"place_id": here.pk, "item": CORD}

    def told() -> list[str]:
        return [alarm.text for alarm in selectors.open_alarms(area_id=cast.area.pk)]

    for _ in range(2):
        counted.take_counted(**cast.by(cast.keeper), **at, quantity=1)
        short = told()
    assert short == ["Cord 50 ft at North warehouse: fewer than the least there should be."]
    counted.add_counted(**cast.by(cast.keeper, NIGHT + timedelta(minutes=5)), **at, quantity=1)
    assert told() == []
    ended = Alarm.objects.get()
    assert (ended.settled_by, ended.what_was_done) == (cast.keeper, "4 there again, at least 4.")
    counted.set_counted_minimum(**cast.by(cast.keeper), **at, minimum=9)
    assert told() == short
    counted.set_counted_minimum(**cast.by(cast.keeper), **at, minimum=0)
    assert told() == []
