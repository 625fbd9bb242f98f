"""Between warehouses: sent, on the road, received. A unit that does not arrive is named at receipt."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.contrib.auth.models import User

from equipment import places
from equipment.custody import book
from equipment.custody.answers import Scan, Scanned
from equipment.custody.find import condition_away_from_job, gather, uncleaned_category
from equipment.custody.writing import Write
from equipment.models import Condition, Move, UnitNow
from jobs.refusals import Unusable
from jobs.use_case import use_case


@dataclass(frozen=True)
class Received:
    """What arrived, and what is still on the road to this warehouse."""

    scans: tuple[Scan, ...]
    missing: tuple[str, ...]
    discrepancies: int


@use_case("send_transfer")
def send_transfer(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    numbers: tuple[str, ...],
    from_warehouse_id: int,
    to_warehouse_id: int,
    happened_at: datetime | None = None,
) -> Scanned:
    """
    Send units to another warehouse. On the road they count in no stock.

    :raises Unusable: if both warehouses are the same.
    :raises UnitUnknown: if a number belongs to no unit.
    """
    if from_warehouse_id == to_warehouse_id:
        raise Unusable("The units are there already. Choose another warehouse.", where="to_warehouse_id")
    origin, to = places.holder_for_warehouse(from_warehouse_id), places.road_to(to_warehouse_id)
    write, scans, discrepancies = Write.of(key, actor, now, happened_at), [], 0
    for row in gather(numbers, to=origin).rows:
        before, said = row.holder_id, f"{row.holder} ({row.get_condition_display()})"
        condition = condition_away_from_job(row)
        after = book.After(to, condition, water_category=uncleaned_category(row))
        move = book.record(row, Move.Why.SENT, after, write)
        if before != origin.pk:
            book.open_discrepancy(row, move, said=said, found=f"sent from {origin}", now=now)
            discrepancies += 1
        caution = "Keep it apart from clean equipment." if condition == Condition.HELD_BACK else ""
        scans.append(Scan(row.unit.number, row.unit.model.name, "sent", f"{to}", move.pk, caution=caution))
    return Scanned(tuple(scans), discrepancies)


@use_case("receive_transfer")
def receive_transfer(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    numbers: tuple[str, ...],
    warehouse_id: int,
    happened_at: datetime | None = None,
) -> Received:
    """
    Receive units at a warehouse; what is still on the road to it is named.

    :raises UnitUnknown: if a number belongs to no unit.
    """
    to, road = places.holder_for_warehouse(warehouse_id), places.road_to(warehouse_id)
    write, scans, discrepancies = Write.of(key, actor, now, happened_at), [], 0
    for row in gather(numbers, to=to).rows:
        if row.holder_id == to.pk:
            scans.append(Scan(row.unit.number, row.unit.model.name, "already_there", f"already at {to}"))
            continue
        before, said = row.holder_id, f"{row.holder} ({row.get_condition_display()})"
        after = book.After(to, condition_away_from_job(row), water_category=uncleaned_category(row))
        move = book.record(row, Move.Why.RECEIVED, after, write)
        if before != road.pk:
            book.open_discrepancy(row, move, said=said, found=f"received at {to}", now=now)
            discrepancies += 1
        scans.append(Scan(row.unit.number, row.unit.model.name, "received", f"received at {to}", move.pk))
    missing = UnitNow.objects.filter(holder=road).order_by("unit__number").values_list("unit__number", flat=True)
    return Received(tuple(scans), tuple(missing[:200]), discrepancies)
