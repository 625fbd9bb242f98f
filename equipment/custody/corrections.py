"""Taking back the last scan, and correcting an entry: both add an entry that stands in the wrong one's place."""

from datetime import datetime
from uuid import UUID

from django.contrib.auth.models import User

from equipment import places
from equipment.custody import book, loading
from equipment.custody.answers import Scan
from equipment.custody.conditions import StepsMissing
from equipment.custody.find import gather
from equipment.custody.writing import Write
from equipment.models import Condition, Holder, Move, Reservation, UnitNow
from equipment.reservations.book import LIVE
from equipment.stock.replay import effective
from jobs.refusals import NotThere, Refusal, Unusable
from jobs.use_case import use_case


class MovedSince(Refusal):
    """The scan is not the unit's last entry any more, or the entry was corrected before."""

    code = "moved_since"


@use_case("undo_scan")
def undo_scan(*, key: UUID, actor: User, now: datetime, move_id: int) -> Scan:
    """
    Take back one scan: the unit is where and how it was before.

    :raises MovedSince: if the unit has moved since, or the scan was taken back before.
    :raises NotThere: if there is no such entry.
    """
    row, order, at = _standing(move_id)
    if at != len(order) - 1:
        raise MovedSince(
            f"Number {row.unit.number} was moved after this. Correct the entry, or write what happened now."
        )
    wrong, before = order[at], order[at - 1] if at else None
    if before is None:
        raise MovedSince(
            f"This is the first entry of number {row.unit.number}; there is nothing before it to go back to."
        )
    vehicle_id = wrong.to_holder.vehicle_id if wrong.why == Move.Why.LOADED else None
    write = Write(key, actor, now, wrong.happened_at)
    after = book.After(
        before.to_holder,
        before.condition_after,
        before.room_name,
        _again(row, before, write),
        before.water_category,
    )
    move = book.record(row, Move.Why.CORRECTION, after, write, note="scan taken back", corrects=wrong)
    if vehicle_id is not None:
        loading.unload(row.unit, vehicle_id)
    said = f"taken back: again {before.to_holder} ({Condition(before.condition_after).label})"
    return Scan(row.unit.number, row.unit.model.name, "undone", said, move.pk)


@use_case("correct_move")
def correct_move(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    move_id: int,
    reason: str,
    warehouse_id: int | None = None,
    vehicle_id: int | None = None,
    job_id: int | None = None,
    room_name: str = "",
    condition: str | None = None,
    hour_meter: float | None = None,
) -> Scan:
    """
    Say where an entry should have put a unit, and how; what was written first is kept with its author and time.

    Exactly one of warehouse, vehicle and job is named. A figure that is not given stays. Where the unit has moved
    since, its history changes and not where it is.

    :raises MovedSince: if the entry was corrected before.
    :raises StepsMissing: if a unit from category 3 water would be called ready by it.
    :raises Unusable: if no reason or not exactly one place is given.
    """
    if not reason.strip():
        raise Unusable("A correction says why. Give the reason.", where="reason")
    to = _named(warehouse_id, vehicle_id, job_id)
    row, order, at = _standing(move_id, to)
    wrong, last = order[at], at == len(order) - 1
    condition = condition or wrong.condition_after
    if condition not in Condition.values or (condition == Condition.IN_USE) != (to.kind == Holder.Kind.JOB):
        raise Unusable("A unit is in use at a job and nowhere else. Name a condition that fits the place.")
    if condition == Condition.READY and wrong.water_category == 3:
        raise StepsMissing(
            f"Number {row.unit.number} came from category 3 water, which no correction takes away. "
            "Decontaminate it, change its filter and test it; then say so on the cleaning page.",
            where="condition",
            number=row.unit.number,
        )
    out_on = row.reservation if last else wrong.reservation
    keeps_promise = out_on is not None and (to.job_id in {None, out_on.job_id})
    write = Write(key, actor, now, wrong.happened_at)
    reservation_id = out_on.pk if out_on and keeps_promise and to.kind != Holder.Kind.WAREHOUSE else None
    after = book.After(to, condition, room_name, reservation_id, wrong.water_category)
    move = book.record(row, Move.Why.CORRECTION, after, write, note=reason, hour_meter=hour_meter, corrects=wrong)
    return Scan(row.unit.number, row.unit.model.name, "corrected", f"corrected: {to}", move.pk)


def _standing(move_id: int, to: Holder | None = None) -> tuple[UnitNow, list[Move], int]:
    """
    The unit, locked, its entries that count in the order in which they happened, and the place of this one.

    :raises NotThere: if there is no such entry.
    :raises MovedSince: if it was corrected before.
    """
    number = Move.objects.filter(pk=move_id).values_list("unit__number", flat=True).first()
    if number is None:
        raise NotThere(f"There is no entry {move_id}. Look at the unit's history again.")
    holders = Holder.objects.filter(moves_in__unit__number=number, kind__in=book.KEEPING).distinct()
    model = Move.objects.values_list("unit__model_id", flat=True).get(pk=move_id)
    # Back where it stood ready, it counts there again: those stock rows are locked too.
    pools = {places.pool_for(model_id=model, place=holder).pk for holder in holders}
    pools |= set(Reservation.objects.filter(moves__unit__number=number).values_list("pool_id", flat=True))
    row = gather([number], to=to, also_pools=pools).rows[0]
    rows = Move.objects.select_related("to_holder", "reservation").filter(unit_id=row.unit_id)
    moves = {move.pk: move for move in rows}
    order = [moves[fact.id] for fact in effective(book.fact_of(move) for move in moves.values())]
    at = next((n for n, move in enumerate(order) if move.pk == move_id), None)
    if at is None:
        raise MovedSince(f"This entry of number {number} was corrected before. Look at its history again.")
    return row, order, at


def _again(row: UnitNow, before: Move, write: Write) -> int | None:
    """What the unit is out on again: the same promise while it lives, else the job's, since the unit is out."""
    if before.reservation_id is None:
        return None
    promise = Reservation.objects.select_related("job", "pool").get(pk=before.reservation_id)
    if promise.state in LIVE:
        return promise.pk
    return write.promise_to_draw_on(pool=promise.pool, job=promise.job).pk


def _named(warehouse_id: int | None, vehicle_id: int | None, job_id: int | None) -> Holder:
    if sum(value is not None for value in (warehouse_id, vehicle_id, job_id)) != 1:
        raise Unusable("Name the one place where the unit really is: a warehouse, a vehicle or a job.")
    if warehouse_id is not None:
        return places.holder_for_warehouse(warehouse_id)
    if vehicle_id is not None:
        return places.holder_for_vehicle(vehicle_id)
    assert job_id is not None
    return places.holder_for_job(job_id)
