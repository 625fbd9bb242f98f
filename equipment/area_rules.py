"""In which area equipment's own rows lie, for the rule that nobody writes into another area."""

from collections.abc import Collection, Iterable, Mapping
from typing import Any

from equipment.models import (
    Alarm,
    Discrepancy,
    FastCount,
    Holder,
    LoadList,
    Loan,
    Move,
    Pool,
    Reservation,
    UnitNow,
    Vehicle,
    Warehouse,
)
from equipment.numbers import unit_numbers
from jobs import areas, rows

# What is done to a unit without seeing it. A scan is a fact: the unit is there, wherever the record has it.
_BY_NUMBER = ("set_condition", "not_found", "call_off")


def register() -> None:
    """Tell the rule where each id leads."""
    for argument in ("warehouse_id", "from_warehouse_id"):
        areas.register(argument, areas.of(Warehouse, "area_id"))
    # To send is the sender's, to receive the receiver's: a transfer to another area is two people's work.
    areas.register("to_warehouse_id", _nothing)
    areas.register("vehicle_id", areas.of(Vehicle, "area_id"))
    for argument in ("place_id", "from_place_id", "to_place_id"):
        areas.register(argument, areas.of(Holder, "area_id"))
    areas.register("reservation_id", areas.of(Reservation, "pool__place__area_id"))
    areas.register("pool_id", areas.of(Pool, "place__area_id"))
    areas.register("load_list_id", areas.of(LoadList, "warehouse__area_id"))
    areas.register("move_id", areas.of(Move, "to_holder__area_id"))
    areas.register("discrepancy_id", areas.of(Discrepancy, "unit__now__holder__area_id"))
    areas.register("alarm_id", areas.of(Alarm, "area_id"))
    areas.register("fast_count_id", areas.of(FastCount, "warehouse__area_id"))
    areas.register("loan_id", areas.of(Loan, "area_id"))
    areas.register("wanted", _pools, verb="hold")
    for verb in _BY_NUMBER:
        areas.register("numbers", _units, verb=verb)
    areas.register("number", _units, verb="record_service")


def _nothing(keys: Collection[Any], named: Mapping[str, Any]) -> Iterable[int | None]:
    return ()


def _pools(wanted: Collection[Any], named: Mapping[str, Any]) -> Iterable[int | None]:
    # Every booking asks this, so the text is made here.
    asked = [pool for pool, _ in wanted]
    some = ", ".join(["%s"] * len(asked))
    return [area_id for (area_id,) in rows.select(_AREAS_OF_POOLS.format(pools=some), asked)] if asked else ()


_AREAS_OF_POOLS = (
    "SELECT holder.area_id FROM equipment_pool AS pool JOIN equipment_holder AS holder ON holder.id = pool.place_id "
    "WHERE pool.id IN ({pools})"
)


def _units(numbers: Collection[Any], named: Mapping[str, Any]) -> Iterable[int | None]:
    found = UnitNow.objects.filter(unit__number__in=unit_numbers(" ".join(map(str, numbers))))
    return found.values_list("holder__area_id", flat=True)
