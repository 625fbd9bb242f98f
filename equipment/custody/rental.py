"""Rented units: our number, the supplier's number, what a day costs, and the call-off that ends the charge."""

from datetime import datetime
from uuid import UUID

from django.contrib.auth.models import User

from equipment import locks, places
from equipment.custody import book
from equipment.custody.answers import Scan, Scanned
from equipment.custody.conditions import StillAtJob
from equipment.custody.find import condition_away_from_job, gather, uncleaned_category
from equipment.custody.writing import Write
from equipment.models import Condition, EquipmentModel, Holder, Move, Unit, UnitNow
from equipment.numbers import unit_number
from equipment.opening import NumberTaken
from jobs.refusals import NotThere, Refusal, Unusable
from jobs.use_case import key_for, use_case


class NotRented(Refusal):
    """Only a rented unit can be called off, and only once."""

    code = "not_rented"


@use_case("rent_in")
def rent_in(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    model_id: int,
    warehouse_id: int,
    supplier: str,
    units: tuple[tuple[str, str], ...],
    daily_cost: float,
    happened_at: datetime | None = None,
) -> Scanned:
    """
    Take rented units in at a warehouse: `units` = ((our number, the supplier's number), ...), `daily_cost` in dollars.
    The charge begins at `happened_at`.

    :raises NumberTaken: if one of our numbers belongs to another unit.
    :raises Unusable: if no unit or supplier is named, or the cost is negative.
    :raises NotThere: if there is no such model or warehouse.
    """
    if not units or not supplier.strip() or daily_cost < 0:
        raise Unusable("Name the supplier, at least one unit, and what a day costs.", where="units")
    model = EquipmentModel.objects.filter(pk=model_id).first()
    if model is None:
        raise NotThere(f"There is no equipment model {model_id}. Choose one from the list.", where="model_id")
    to = places.holder_for_warehouse(warehouse_id)
    origin = places.holder_for(Holder.Kind.SUPPLIER, area_id=to.area_id, name=supplier.strip())
    numbers = free_numbers(units)
    locks.lock_pools([places.pool_for(model_id=model.pk, place=to).pk])
    write, scans = Write.of(key, actor, now, happened_at), []
    came = write.happened_at
    for number, theirs in numbers.items():
        unit = Unit.objects.create(
            number=number,
            model=model,
            rented=True,
            supplier=supplier.strip(),
            supplier_number=theirs,
            daily_cost=daily_cost,
        )
        row = UnitNow(unit=unit, holder=origin, condition=Condition.READY, since=came, seen_at=came, seen_by=actor)
        move = book.record(row, Move.Why.RENTED_IN, book.After(to, Condition.READY), write)
        scans.append(Scan(number, model.name, "rented_in", f"from {origin}, at {to}, ready", move.pk))
    return Scanned(tuple(scans))


@use_case("call_off")
def call_off(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    numbers: tuple[str, ...],
    call_off_number: str,
    happened_at: datetime | None = None,
) -> Scanned:
    """
    Call rented units off: the charge ends at `happened_at`, the risk stays with us until the supplier has collected
    them.

    :raises NotRented: if one of them is our own.
    :raises StillAtJob: if one of them stands at a job.
    :raises Unusable: if the supplier's call-off number is missing.
    """
    if not call_off_number.strip():
        raise Unusable("Ask the supplier for the call-off number; it proves when the charge ended.")
    rows, scans = gather(numbers).rows, []
    for row in rows:
        _may_go(row)
    for row in rows:
        row.unit.call_off_number = call_off_number.strip()[:40]
        note = f"call-off number {call_off_number}"
        part = key_for(key, row.unit.number)
        scans.append(give_back(row, key=part, actor=actor, now=now, happened_at=happened_at, note=note))
    return Scanned(tuple(scans))


def free_numbers(units: tuple[tuple[str, str], ...]) -> dict[str, str]:
    """
    The owner's numbers by ours.

    :raises NumberTaken: if one of ours belongs to a unit already.
    """
    numbers = {unit_number(ours): theirs for ours, theirs in units}
    taken = sorted(Unit.objects.filter(number__in=numbers).values_list("number", flat=True))
    if taken or len(numbers) < len(units):
        raise NumberTaken(
            f"The number {(taken or list(numbers))[0]} belongs to a unit already. Give each one a number of its own.",
            numbers=taken,
        )
    return numbers


def give_back(
    row: UnitNow, *, key: UUID, actor: User, now: datetime, note: str, happened_at: datetime | None = None
) -> Scan:
    """A unit that is not ours goes back to its owner, in our record."""
    unit = row.unit
    to = places.holder_for(Holder.Kind.SUPPLIER, area_id=row.holder.area_id, name=unit.supplier)
    after = book.After(to, condition_away_from_job(row), water_category=uncleaned_category(row))
    write = Write.of(key, actor, now, happened_at)
    move = book.record(row, Move.Why.CALLED_OFF, after, write, note=note)
    unit.called_off_at = write.happened_at
    unit.save(update_fields=["call_off_number", "called_off_at"])
    caution = "Keep it locked up: the risk is ours until it is collected."
    said = f"called off with {unit.supplier}"
    return Scan(unit.number, unit.model.name, "called_off", said, move.pk, None, caution)


def _may_go(row: UnitNow) -> None:
    if row.unit.model.loan_id is not None:
        raise NotRented(
            f"Number {row.unit.number} is lent by {row.unit.supplier}, not rented. End the loan instead.",
            where="numbers",
        )
    if not row.unit.rented:
        raise NotRented(f"Number {row.unit.number} is our own; only rented units are called off.", where="numbers")
    if row.unit.called_off_at is not None:
        raise NotRented(
            f"Number {row.unit.number} was called off before, under {row.unit.call_off_number}. Leave it out.",
            where="numbers",
        )
    if row.holder.kind == Holder.Kind.JOB:
        raise StillAtJob(
            f"Number {row.unit.number} still stands at job {row.holder}. Take it up first.", where="numbers"
        )
