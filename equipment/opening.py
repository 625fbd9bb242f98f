"""The first entry of units: bought, brought in from another system, or counted at the start."""

from collections import Counter
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.contrib.auth.models import User

from equipment import locks, places
from equipment.models import Condition, EquipmentModel, Holder, Move, Pool, Unit, UnitNow
from equipment.numbers import unit_number
from equipment.seals import seal_move
from jobs.refusals import NotThere, Refusal, Unusable
from jobs.use_case import key_for, use_case


class NumberTaken(Refusal):
    """Another unit has this number."""

    code = "number_taken"


@dataclass(frozen=True)
class Opening:
    """
    One unit as it is at the start. `holder` is a `Holder.Kind`; `place_id` is the warehouse's, vehicle's or job's id,
    otherwise None. `since`: when it came there.
    """

    number: str
    model_code: str
    holder: str
    place_id: int | None = None
    room_name: str = ""
    condition: str = Condition.READY
    since: datetime | None = None
    water_category: int | None = None
    hour_meter: float | None = None
    rented: bool = False
    supplier: str = ""
    supplier_number: str = ""
    daily_cost: float | None = None


@use_case("enter_units")
def enter_units(
    *, key: UUID, actor: User, now: datetime, area_id: int, entries: tuple[Opening, ...], note: str = ""
) -> int:
    """
    Enter units with where and how they are; how many that were.

    :raises NumberTaken: if a number is given twice or belongs to a unit already.
    :raises NotThere: if a model or place does not exist.
    :raises Unusable: if a condition does not fit the place.
    """
    models = _models(entries)
    numbers = _numbers(entries)
    holders = {(entry.holder, entry.place_id): None for entry in entries}
    found = {where: _holder(*where, area_id=area_id) for where in holders}
    for entry in entries:
        _check(entry)
    units = Unit.objects.bulk_create(
        Unit(
            number=number,
            model=models[entry.model_code],
            rented=entry.rented,
            supplier=entry.supplier,
            supplier_number=entry.supplier_number,
            daily_cost=entry.daily_cost,
        )
        for number, entry in zip(numbers, entries, strict=True)
    )
    pools = _count_in(units, entries, found)
    moves = [
        Move(
            key=key_for(key, f"opening:{unit.number}"),
            unit=unit,
            why=Move.Why.OPENING,
            to_holder=found[entry.holder, entry.place_id],
            room_name=entry.room_name,
            condition_after=entry.condition,
            water_category=entry.water_category,
            hour_meter=entry.hour_meter,
            happened_at=entry.since or now,
            recorded_at=now,
            actor=actor,
            note=note[:200],
        )
        for unit, entry in zip(units, entries, strict=True)
    ]
    for move in moves:
        move.seal = seal_move(move, "")
    Move.objects.bulk_create(moves)
    UnitNow.objects.bulk_create(
        UnitNow(
            unit=unit,
            holder=found[entry.holder, entry.place_id],
            room_name=entry.room_name,
            condition=entry.condition,
            pool_id=pools[unit.pk],
            water_category=entry.water_category,
            hour_meter=entry.hour_meter,
            since=entry.since or now,
            seal=move.seal,
            seen_at=entry.since or now,
            seen_by=actor,
        )
        for unit, entry, move in zip(units, entries, moves, strict=True)
    )
    return len(units)


def _count_in(
    units: list[Unit], entries: tuple[Opening, ...], found: dict[tuple[str, int | None], Holder]
) -> dict[int, int | None]:
    """Count the units that are ready at a place of ours into its stock rows; each unit's stock row."""
    counts_at: dict[int, tuple[int, int]] = {}
    for unit, entry in zip(units, entries, strict=True):
        place = found[entry.holder, entry.place_id]
        if entry.condition == Condition.READY and place.kind in {Holder.Kind.WAREHOUSE, Holder.Kind.VEHICLE}:
            counts_at[unit.pk] = (unit.model_id, place.pk)
    added = Counter(counts_at.values())
    ids = places.pool_ids(added)
    locked = locks.lock_pools(ids[where] for where in added)
    for where, count in added.items():
        locked[ids[where]].stock += count
    Pool.objects.bulk_update(locked.values(), ["stock"])
    return {unit.pk: ids[counts_at[unit.pk]] if unit.pk in counts_at else None for unit in units}


def _models(entries: tuple[Opening, ...]) -> dict[str, EquipmentModel]:
    codes = {entry.model_code for entry in entries}
    models = {model.code: model for model in EquipmentModel.objects.filter(code__in=codes)}
    if missing := sorted(codes - set(models)):
        raise NotThere(f"There is no equipment model {missing[0]!r}. Enter the model first.", where="entries")
    return models


def _numbers(entries: tuple[Opening, ...]) -> list[str]:
    if not entries:
        raise Unusable("No unit is given.", where="entries")
    numbers = [unit_number(entry.number) for entry in entries]
    twice = [number for number, count in Counter(numbers).items() if count > 1]
    taken = twice or list(Unit.objects.filter(number__in=numbers).values_list("number", flat=True)[:10])
    if taken:
        raise NumberTaken(
            f"The number {taken[0]} belongs to a unit already. Give each unit a number of its own.", numbers=taken
        )
    return numbers


def _check(entry: Opening) -> None:
    if entry.condition not in Condition.values:
        raise Unusable(f"Unit {entry.number}: {entry.condition!r} is no condition. Use one of {Condition.values}.")
    if (entry.condition == Condition.IN_USE) != (entry.holder == Holder.Kind.JOB):
        raise Unusable(f"Unit {entry.number}: a unit is in use at a job and nowhere else. Check place and condition.")


def _holder(kind: str, place_id: int | None, *, area_id: int) -> Holder:
    if kind not in Holder.Kind.values:
        raise Unusable(f"{kind!r} is no kind of place. Use one of {Holder.Kind.values}.", where="holder")
    if kind == Holder.Kind.WAREHOUSE and place_id is not None:
        return places.holder_for_warehouse(place_id)
    if kind == Holder.Kind.VEHICLE and place_id is not None:
        return places.holder_for_vehicle(place_id)
    if kind == Holder.Kind.JOB and place_id is not None:
        return places.holder_for_job(place_id)
    if kind in {Holder.Kind.WAREHOUSE, Holder.Kind.VEHICLE, Holder.Kind.JOB}:
        raise Unusable(f"Say which {kind} holds the unit.", where="place_id")
    return places.holder_for(kind, area_id=area_id)
