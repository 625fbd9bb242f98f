"""The one place that writes custody: the entry, where the unit is now, the stock it counts in, what it is out on."""

from dataclasses import dataclass, replace
from datetime import datetime

from equipment import alarms
from equipment.custody.find import KEEPING
from equipment.custody.writing import Write
from equipment.models import Condition, Discrepancy, Holder, Move, UnitNow
from equipment.reservations import facts
from equipment.seals import seal_move
from equipment.stock.replay import WORKING, MoveFact, effective
from jobs import rows
from jobs.use_case import key_for

# How an entry that arrives late says that the unit ran in water.
RAN = frozenset({Condition.IN_USE, Condition.NOT_YET_CLEANED, Condition.HELD_BACK})


@dataclass(frozen=True)
class After:
    """How the unit is after the move; `ran_at` is the job from which it is taken up, whose promise it has used."""

    holder: Holder
    condition: str
    room_name: str = ""
    reservation_id: int | None = None
    water_category: int | None = None
    ran_at: int | None = None


def record(
    row: UnitNow,
    why: str,
    after: After,
    write: Write,
    *,
    note: str = "",
    hour_meter: float | None = None,
    corrects: Move | None = None,
) -> Move:
    """
    Write one entry and let everything that follows from it settle.

    The caller holds the locks of the unit and of every pool concerned. An entry that happened before the unit's last
    one is kept in its place and changes nothing now, unless it says that the unit ran in water since it was clean.
    """
    move = Move(
        key=key_for(write.key, f"{why}:{row.unit.number}"),
        unit=row.unit,
        why=why,
        from_holder_id=row.holder_id,
        to_holder=after.holder,
        room_name=after.room_name,
        reservation_id=after.reservation_id,
        condition_after=after.condition,
        water_category=after.water_category,
        hour_meter=hour_meter,
        happened_at=write.happened_at,
        recorded_at=write.now,
        actor=write.actor,
        note=note[:200],
        corrects=corrects,
    )
    move.seal = row.seal = seal_move(move, row.seal)
    rows.insert(move)
    last = move if corrects is None and write.happened_at >= row.since else _last_of(row)
    row.seen_at, row.seen_by = max(row.seen_at, write.happened_at), write.actor
    if hour_meter is not None and last == move:
        row.hour_meter = hour_meter
    ran = last == move and row.reservation is not None and row.reservation.job_id == after.ran_at
    _settle(row, last, write, ran=ran)
    if corrects is None and last != move and move.condition_after in RAN:
        _ran_before(row, move, write)
    return move


def still_there(row: UnitNow, why: str, write: Write) -> Move | None:
    """
    Keep that a unit was seen where the record has it, as it is, unless that is known already.

    Without this entry, one that arrives later and happened before would move the unit away again.
    """
    if write.happened_at <= row.since:
        return None
    after = After(row.holder, row.condition, row.room_name, row.reservation_id, row.water_category)
    return record(row, why, after, write, note="seen there again")


def _ran_before(row: UnitNow, late: Move, write: Write) -> None:
    """The last entry, written as if the unit were clean, is corrected where nobody has cleaned it since it ran."""
    moves = {move.pk: move for move in row.unit.moves.select_related("to_holder", "corrects", "reservation")}
    order = [moves[fact.id] for fact in effective(fact_of(move) for move in moves.values())]
    at = order.index(late)
    if any(_cleaned(move) for move in order[at + 1 :]):
        return
    last, category = order[-1], max(late.water_category or 0, order[-1].water_category or 0) or None
    condition = last.condition_after
    if condition in {Condition.READY, Condition.NOT_YET_CLEANED}:
        condition = Condition.HELD_BACK if category == 3 else Condition.NOT_YET_CLEANED
    if (condition, category) == (last.condition_after, last.water_category):
        return
    out_on = next((move.reservation for move in reversed(order[:at]) if move.reservation is not None), None)
    if out_on is not None and out_on.pool_id == row.pool_id and row.reservation_id is None:
        facts.ran_after_all(write.promise(out_on.pk), **write.about(row.unit.number))
    stays = last.reservation_id if condition == Condition.IN_USE else None
    after = After(last.to_holder, condition, last.room_name, stays, category)
    then = replace(write, happened_at=last.happened_at)
    record(row, Move.Why.CORRECTION, after, then, note="it ran before, recorded late: not clean", corrects=last)
    if category == 3 and last.to_holder.kind in {Holder.Kind.VEHICLE, Holder.Kind.JOB}:
        alarms.raise_alarm(
            kind="not_decontaminated",
            text=f"Unit {row.unit.number} ran in category 3 water and went out again to {last.to_holder}, as was "
            "recorded late. Call the crew: it must not run anywhere before it is decontaminated.",
            area_id=last.to_holder.area_id,
            actor=write.actor,
            now=write.now,
        )


def _cleaned(move: Move) -> bool:
    """Whether somebody said by this entry that the unit was cleaned and tested."""
    said = move.corrects.why if move.corrects is not None else move.why
    return said == Move.Why.CONDITION and move.condition_after == Condition.READY


def _last_of(row: UnitNow) -> Move:
    moves = {move.pk: move for move in Move.objects.select_related("to_holder").filter(unit_id=row.unit_id)}
    return moves[effective(fact_of(move) for move in moves.values())[-1].id]


def fact_of(move: Move) -> MoveFact:
    """The entry as the replay reads it."""
    return MoveFact(
        id=move.pk,
        unit=move.unit_id,
        holder=move.to_holder_id,
        room_name=move.room_name,
        condition=move.condition_after,
        reservation=move.reservation_id,
        water_category=move.water_category,
        happened_at=move.happened_at,
        corrects=move.corrects_id,
    )


def _settle(row: UnitNow, last: Move, write: Write, *, ran: bool) -> None:
    part = f"{row.unit.number}:{last.pk}"
    used = ran or row.condition == Condition.IN_USE
    gave_back = took_beyond = False
    if row.reservation_id != last.reservation_id:
        if row.reservation_id is not None:
            facts.give_back(write.promise(row.reservation_id), used=used, **write.about(part))
            gave_back = used
        if last.reservation_id is not None:
            promise = write.promise(last.reservation_id)
            took_beyond = facts.draw(promise, happened_at=last.happened_at, **write.about(part))
    pool_id = _pool_after(row, last, write)
    scarcer = _restock(row.pool_id, pool_id)
    if gave_back:
        # Stock and promise fell together, so nobody else has less.
        scarcer.clear()
    if took_beyond and pool_id is not None:
        scarcer.add(pool_id)
    row.holder, row.room_name, row.condition = last.to_holder, last.room_name, last.condition_after
    row.pool_id, row.reservation_id, row.water_category = pool_id, last.reservation_id, last.water_category
    row.since = last.happened_at
    write.settled(row, scarcer)


_RESTOCK = (
    "UPDATE equipment_pool SET stock = stock - CASE WHEN id = %s THEN 1 ELSE 0 END"
    " + CASE WHEN id = %s THEN 1 ELSE 0 END WHERE id IN (%s, %s)"
)


def _restock(before: int | None, after: int | None) -> set[int]:
    """Count the unit out of one stock and into another; the pools that became scarcer by it."""
    if before == after:
        return set()
    rows.execute(_RESTOCK, [before, after, before, after])
    return {before} if before is not None else set()


def _pool_after(row: UnitNow, last: Move, write: Write) -> int | None:
    """The same rule as `stock.replay.pool_of`, on rows."""
    if last.condition_after not in WORKING:
        return None
    if last.reservation_id is not None:
        # The pool of a promise never changes, so the unit's own copy of it will do.
        same = row.reservation if row.reservation_id == last.reservation_id else None
        return (same or write.promise(last.reservation_id)).pool_id
    if last.condition_after == Condition.READY and last.to_holder.kind in KEEPING:
        return write.pool_id_for(model_id=row.unit.model_id, place=last.to_holder)
    return None


def open_discrepancy(row: UnitNow, move: Move, *, said: str, found: str, now: datetime) -> Discrepancy:
    """The record and the floor disagreed; the floor won."""
    return Discrepancy.objects.create(unit=row.unit, move=move, said=said[:200], found=found[:200], opened_at=now)
