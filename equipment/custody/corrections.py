"""Taking back the last scan, and correcting an entry: both add an entry that stands in the wrong one's place."""

from datetime import datetime
from uuid import UUID

from django.contrib.auth.models import User

from equipment import places
from equipment.custody import book, loading
from equipment.custody.answers import Scan
from equipment.custody.find import gather
from equipment.models import Condition, Holder, Move, Reservation, UnitNow
from equipment.reservations.book import LIVE
from equipment.stock.replay import effective
from jobs.refusals import NotThere, Refusal, Unusable
from jobs.use_case import use_case


class MovedSince(Refusal):
    """The entry is not the unit's last one any more."""

    code = "moved_since"


@use_case("undo_scan")
def undo_scan(*, key: UUID, actor: User, now: datetime, move_id: int) -> Scan:
    """
    Take back one scan: the unit is where and how it was before.

    :raises MovedSince: if the unit has moved since, or the scan was taken back before.
    :raises NotThere: if there is no such entry.
    """
    row, wrong, before = _last_two(move_id)
    if before is None:
        raise MovedSince(
            f"This is the first entry of number {row.unit.number}; there is nothing before it to go back to."
        )
    vehicle_id = wrong.to_holder.vehicle_id if wrong.why == Move.Why.LOADED else None
    write = book.Write(key, actor, now, wrong.happened_at)
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
    Say where a unit's last entry should have put it, and how; what was written first is kept with its author and time.

    Exactly one of warehouse, vehicle and job is named. A figure that is not given stays.

    :raises MovedSince: if the unit has moved since: then write what happened as a new move.
    :raises Unusable: if no reason or not exactly one place is given.
    """
    if not reason.strip():
        raise Unusable("A correction says why. Give the reason.", where="reason")
    to = _named(warehouse_id, vehicle_id, job_id)
    row, wrong, _ = _last_two(move_id, to)
    condition = condition or wrong.condition_after
    if condition not in Condition.values or (condition == Condition.IN_USE) != (to.kind == Holder.Kind.JOB):
        raise Unusable("A unit is in use at a job and nowhere else. Name a condition that fits the place.")
    keeps_promise = row.reservation is not None and (to.job_id in {None, row.reservation.job_id})
    write = book.Write(key, actor, now, wrong.happened_at)
    reservation_id = row.reservation_id if keeps_promise and to.kind != Holder.Kind.WAREHOUSE else None
    after = book.After(to, condition, room_name, reservation_id, wrong.water_category)
    move = book.record(row, Move.Why.CORRECTION, after, write, note=reason, hour_meter=hour_meter, corrects=wrong)
    return Scan(row.unit.number, row.unit.model.name, "corrected", f"corrected: {to}", move.pk)


def _last_two(move_id: int, to: Holder | None = None) -> tuple[UnitNow, Move, Move | None]:
    """The unit, locked, its last entry, which must be this one, and the one before."""
    number = Move.objects.filter(pk=move_id).values_list("unit__number", flat=True).first()
    if number is None:
        raise NotThere(f"There is no entry {move_id}. Look at the unit's history again.")
    holders = Holder.objects.filter(moves_in__unit__number=number, kind__in=book.KEEPING).distinct()
    model = Move.objects.values_list("unit__model_id", flat=True).get(pk=move_id)
    # Back where it stood ready, it counts there again: those stock rows are locked too.
    pools = {places.pool_for(model_id=model, place=holder).pk for holder in holders}
    pools |= set(Reservation.objects.filter(moves__unit__number=number).values_list("pool_id", flat=True))
    row = gather([number], to=to, also_pools=pools).rows[0]
    moves = {move.pk: move for move in Move.objects.select_related("to_holder").filter(unit_id=row.unit_id)}
    order = effective(book.fact_of(move) for move in moves.values())
    if order[-1].id != move_id:
        raise MovedSince(
            f"Number {number} was moved or corrected after this. Look at its history and write what happened now."
        )
    return row, moves[move_id], moves[order[-2].id] if len(order) > 1 else None


def _again(row: UnitNow, before: Move, write: book.Write) -> int | None:
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
