"""Finding and locking the units that somebody named."""

from collections.abc import Iterable
from dataclasses import dataclass

from equipment import locks
from equipment.models import Condition, Holder, Pool, UnitNow
from equipment.numbers import unit_number
from equipment.places import pool_for
from jobs.refusals import Refusal, Unusable
from jobs.rows import insert

AT_MOST = 200
KEEPING = frozenset({Holder.Kind.WAREHOUSE, Holder.Kind.VEHICLE})


class UnitUnknown(Refusal):
    """No unit has this number."""

    code = "unit_unknown"
    status = 404


@dataclass(frozen=True)
class Gathered:
    """Units as they are now, locked with every stock row that the move may touch; in the order asked for."""

    rows: tuple[UnitNow, ...]
    pools: dict[int, Pool]


def gather(
    numbers: Iterable[str], *, to: Holder | None = None, also_pools: Iterable[int] = (), where_they_are: bool = False
) -> Gathered:
    """
    Lock the units with these numbers, then the stock rows: where they count now and where they would at `to`.

    `where_they_are`: also the stock rows of the places where they are, in which they may count from now on.

    :raises UnitUnknown: if a number belongs to no unit.
    :raises Unusable: if no number is given, or too many at once.
    """
    wanted = tuple(dict.fromkeys(unit_number(number) for number in numbers))
    if not wanted:
        raise Unusable("No unit is named. Scan a tag or type a number.", where="numbers")
    if len(wanted) > AT_MOST:
        raise Unusable(f"{len(wanted)} units at once are too many. Send at most {AT_MOST}.", where="numbers")
    locked = locks.lock_units(wanted)
    if unknown := [number for number in wanted if number not in locked]:
        raise UnitUnknown(
            f"No unit has the number {', '.join(unknown)}. Read the tag again, or look the unit up by model.",
            where="numbers",
            numbers=unknown,
        )
    rows = tuple(locked[number] for number in wanted)
    touched = {pool_id for pool_id in also_pools if pool_id is not None}
    touched |= {row.pool_id for row in rows if row.pool_id is not None}
    touched |= {row.reservation.pool_id for row in rows if row.reservation is not None}
    if where_they_are:
        standing = {(row.unit.model_id, row.holder) for row in rows if row.holder.kind in KEEPING}
        touched |= {pool_for(model_id=model_id, place=place).pk for model_id, place in standing}
    pools = _lock_pools(touched, rows, to if to is not None and to.kind in KEEPING else None)
    for row in rows:
        row.pool = pools[row.pool_id] if row.pool_id is not None else None
    return Gathered(rows, pools)


def _lock_pools(touched: set[int], rows: tuple[UnitNow, ...], to: Holder | None) -> dict[int, Pool]:
    models = {row.unit.model_id for row in rows} if to is not None else set()
    pools = locks.lock_pools(touched, of_models=models, at=to) if touched or models else {}
    there = {pool.model_id for pool in pools.values() if to is not None and pool.place_id == to.pk}
    if to is None or models <= there:
        return pools
    # The first units of a model at a place: its row is newer than all those locked, so this keeps their order.
    made = [Pool(model_id=model_id, place=to) for model_id in sorted(models - there)]
    insert(*made, conflict="(model_id, place_id) DO NOTHING")
    return locks.lock_pools(touched, of_models=models, at=to)


def uncleaned_category(row: UnitNow) -> int | None:
    """The worst water that the unit met since it was last cleaned; at a job, what the job knows by now counts too."""
    known = [row.water_category] if row.condition != Condition.READY else []
    if row.holder.kind == Holder.Kind.JOB and row.holder.job is not None:
        known.append(row.holder.job.category)
    return max((category for category in known if category is not None), default=None)


def condition_away_from_job(row: UnitNow) -> str:
    """How a unit is once it left where it is: one that ran at a job is dirty, after category 3 water held back."""
    if row.condition != Condition.IN_USE:
        return row.condition
    return Condition.HELD_BACK if uncleaned_category(row) == 3 else Condition.NOT_YET_CLEANED
