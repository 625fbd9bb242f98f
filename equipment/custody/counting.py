"""Counting: what was seen at a place against the record; what cannot be found; explaining differences."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.contrib.auth.models import User

from equipment import places
from equipment.custody import book
from equipment.custody.answers import Scan, Scanned
from equipment.custody.find import condition_away_from_job, gather, uncleaned_category
from equipment.custody.writing import Write
from equipment.models import Discrepancy, Holder, Move, UnitNow
from equipment.stock.replay import effective
from jobs.refusals import NotThere, Unusable
from jobs.use_case import use_case


@dataclass(frozen=True)
class Counted:
    """`seen` as recorded, `brought_here` because the record had them elsewhere, `missing` of what it has here."""

    seen: int
    brought_here: tuple[Scan, ...]
    missing: tuple[str, ...]


@use_case("count_units")
def count_units(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    numbers: tuple[str, ...],
    warehouse_id: int | None = None,
    vehicle_id: int | None = None,
    whole_place: bool = False,
    happened_at: datetime | None = None,
) -> Counted:
    """
    Count units at a warehouse or aboard a vehicle. One that the record has elsewhere is taken to be here, and a
    discrepancy opens. `whole_place`: everything there was looked at, so that what is missing is named; it is not
    moved by that. `happened_at`: when it was looked at; one that left since stays where it went.

    :raises Unusable: if not exactly one place is named.
    :raises UnitUnknown: if a number belongs to no unit.
    """
    if (warehouse_id is None) == (vehicle_id is None):
        raise Unusable("Name the one place that was counted: a warehouse or a vehicle.", where="warehouse_id")
    if warehouse_id is not None:
        to = places.holder_for_warehouse(warehouse_id)
    else:
        assert vehicle_id is not None
        to = places.holder_for_vehicle(vehicle_id)
    write, brought, seen = Write.of(key, actor, now, happened_at), [], 0
    for row in gather(numbers, to=to).rows:
        if row.holder_id == to.pk or _stood_there(row, to, write.happened_at):
            seen += 1
            if write.happened_at > row.seen_at:
                row.seen_at, row.seen_by = write.happened_at, actor
                row.save(update_fields=["seen_at", "seen_by"])
            continue
        said = f"{row.holder} ({row.get_condition_display()})"
        after = book.After(to, condition_away_from_job(row), water_category=uncleaned_category(row))
        move = book.record(row, Move.Why.FOUND, after, write, note="counted")
        book.open_discrepancy(row, move, said=said, found=f"counted at {to}", now=now)
        brought.append(Scan(row.unit.number, row.unit.model.name, "found", f"now at {to}", move.pk))
    missing: tuple[str, ...] = ()
    if whole_place:
        unseen = UnitNow.objects.filter(holder=to, seen_at__lt=write.happened_at).order_by("unit__number")
        missing = tuple(unseen.values_list("unit__number", flat=True)[:500])
    return Counted(seen, tuple(brought), missing)


def _stood_there(row: UnitNow, place: Holder, at: datetime) -> bool:
    """Whether the record, as it is known by now, has the unit at the place at a time before its last entry."""
    if at >= row.since:
        return False
    facts = effective(book.fact_of(move) for move in Move.objects.filter(unit_id=row.unit_id))
    before = [fact for fact in facts if fact.happened_at <= at]
    return bool(before) and before[-1].holder == place.pk


@use_case("not_found")
def not_found(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    numbers: tuple[str, ...],
    note: str = "",
    happened_at: datetime | None = None,
) -> Scanned:
    """
    Say that units were looked for and not found. They count in no stock until somebody scans them again; one that was
    scanned after `happened_at` stays where it was scanned.

    :raises UnitUnknown: if a number belongs to no unit.
    """
    write, scans = Write.of(key, actor, now, happened_at), []
    for row in gather(numbers).rows:
        if row.since > write.happened_at:
            scans.append(Scan(row.unit.number, row.unit.model.name, "seen_since", f"scanned since: {row.holder}"))
            continue
        said = f"{row.holder} ({row.get_condition_display()})"
        to = places.holder_for(Holder.Kind.NOT_FOUND, area_id=row.holder.area_id)
        after = book.After(to, condition_away_from_job(row), water_category=uncleaned_category(row))
        move = book.record(row, Move.Why.NOT_FOUND, after, write, note=note)
        book.open_discrepancy(row, move, said=said, found="looked for and not found", now=now)
        scans.append(Scan(row.unit.number, row.unit.model.name, "not_found", "not found", move.pk))
    return Scanned(tuple(scans))


@use_case("settle_discrepancy")
def settle_discrepancy(*, key: UUID, actor: User, now: datetime, discrepancy_id: int, explanation: str) -> int:
    """
    Explain a difference between record and floor, which settles it.

    :raises Unusable: if nothing is explained.
    :raises NotThere: if there is no such difference.
    """
    if not explanation.strip():
        raise Unusable("Say what had happened, in a few words.", where="explanation")
    row = Discrepancy.objects.select_for_update().filter(pk=discrepancy_id).first()
    if row is None:
        raise NotThere(f"There is no difference {discrepancy_id}. Look at the list again.")
    if row.settled_at is None:
        row.settled_at, row.explanation = now, explanation.strip()[:300]
        row.save(update_fields=["settled_at", "explanation"])
    return row.pk
