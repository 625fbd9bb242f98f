"""
Counted by model in the night, the numbers later.

A fast count moves nothing: until its numbers are given, the ledger has the units where they were. Giving a number loads
the unit at the time of the count, so that the journal ends up as if it had been scanned then. Until then the stock row
says how many were counted away, and none of those is promised.
"""

from collections import Counter
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.contrib.auth.models import User
from django.db.models import Count

from equipment import custody, locks, places
from equipment.custody.answers import Scan
from equipment.custody.find import gather
from equipment.models import EquipmentModel, FastCount, LoadLine, LoadList, Move, Pool, Unit, Vehicle, Warehouse
from equipment.numbers import unit_number
from equipment.reservations import facts
from equipment.reservations.book import LIVE
from jobs.refusals import NotThere, Refusal, Unusable
from jobs.use_case import key_for, use_case

MOST = 100
OLDEST = timedelta(days=7)
SAME_NIGHT = timedelta(hours=12)


class NotOfThisCount(Refusal):
    """The number belongs to a unit of another model than was counted, or there are more numbers than were counted."""

    code = "not_of_this_count"


class CountSettled(Refusal):
    """All numbers of this count were given, or it was explained why not."""

    code = "count_settled"


@dataclass(frozen=True)
class Named:
    """The units whose numbers were given, and how many numbers are still to come."""

    scans: tuple[Scan, ...]
    lacking: int


@use_case("count_by_model")
def count_by_model(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    warehouse_id: int,
    vehicle_id: int,
    model_id: int,
    quantity: int,
    note: str = "",
    happened_at: datetime | None = None,
) -> int:
    """
    Write down that so many units of a model were taken at a warehouse onto a vehicle. The count's id.

    :raises Unusable: if the quantity is not between 1 and 100, or the count is older than seven days.
    :raises NotThere: if there is no such warehouse, vehicle or model.
    """
    if not 1 <= quantity <= MOST:
        raise Unusable(f"Count between 1 and {MOST} units at once.", where="quantity")
    when = min(happened_at or now, now)
    if now - when > OLDEST:
        raise Unusable("This count is older than seven days. Scan the units where they are now.", where="happened_at")
    for rows, pk, what in (
        (Warehouse.objects, warehouse_id, "warehouse"),
        (Vehicle.objects, vehicle_id, "vehicle"),
        (EquipmentModel.objects, model_id, "model"),
    ):
        if not rows.filter(pk=pk).exists():
            raise NotThere(f"There is no {what} {pk}. Choose one from the list.", where=f"{what}_id")
    count = FastCount.objects.create(
        vehicle_id=vehicle_id,
        warehouse_id=warehouse_id,
        model_id=model_id,
        quantity=quantity,
        note=note.strip()[:120],
        happened_at=when,
        recorded_at=now,
        counted_by=actor,
    )
    _tell_stock(count, actor, now)
    return count.pk


@use_case("name_fast_count")
def name_fast_count(*, key: UUID, actor: User, now: datetime, fast_count_id: int, numbers: tuple[str, ...]) -> Named:
    """
    Give the numbers of a count. A unit that is not yet aboard by the record is loaded as of the count's time.

    :raises NotOfThisCount: if a unit is of another model, was given before, or would be one more than was counted.
    :raises CountSettled: if nothing is open any more.
    :raises UnitUnknown: if a number belongs to no unit.
    """
    count = _open(fast_count_id)
    rows = gather(numbers).rows
    _check(count, [row.unit for row in rows])
    # Aboard already, or moved on since the count: the journal knows better where these are.
    known = [row for row in rows if row.holder.vehicle_id == count.vehicle_id or row.since > count.happened_at]
    to_load = tuple(row.unit.number for row in rows if row not in known)
    scans = [Scan(row.unit.number, row.unit.model.name, "named", f"now {row.holder}") for row in known]
    if to_load:
        loaded = custody.scan_out(
            key=key_for(key, "numbers"),
            actor=actor,
            now=now,
            numbers=to_load,
            vehicle_id=count.vehicle_id,
            warehouse_id=count.warehouse_id,
            happened_at=count.happened_at,
            already_happened=True,
        )
        scans.extend(loaded.scans)
    units = [row.unit for row in rows]
    count.units.add(*units)
    lacking = count.quantity - count.units.count()
    if not lacking:
        count.settled_at = now
        count.save(update_fields=["settled_at"])
    _tell_stock(count, actor, now)
    return Named(tuple(scans), lacking)


@use_case("take_back_number")
def take_back_number(*, key: UUID, actor: User, now: datetime, fast_count_id: int, number: str) -> int:
    """
    Take a number back from a count, which awaits one more then; a loading that rested on it is taken back too.

    :raises NotThere: if the count does not exist, or the number was not given for it.
    """
    count = FastCount.objects.select_for_update(of=("self",)).filter(pk=fast_count_id).first()
    unit = count.units.filter(number=unit_number(number)).first() if count is not None else None
    if count is None or unit is None:
        raise NotThere(f"Number {number} was not given for this count. Look at the list again.", where="number")
    last = unit.moves.filter(corrected_by=None).order_by("-happened_at", "-id").first()
    if last is not None and last.why == Move.Why.LOADED and last.happened_at == count.happened_at:
        custody.undo_scan(key=key_for(key, "undo"), actor=actor, now=now, move_id=last.pk)
    count.units.remove(unit)
    count.settled_at, count.explanation = None, ""
    count.save(update_fields=["settled_at", "explanation"])
    _tell_stock(count, actor, now)
    return count.units.count()


@use_case("explain_fast_count")
def explain_fast_count(*, key: UUID, actor: User, now: datetime, fast_count_id: int, explanation: str) -> int:
    """
    Settle a count whose numbers will not come, with the reason.

    :raises Unusable: if nothing is explained.
    :raises CountSettled: if nothing is open any more.
    """
    if not explanation.strip():
        raise Unusable("Say why the numbers will not come, in a few words.", where="explanation")
    count = _open(fast_count_id)
    count.settled_at, count.explanation = now, explanation.strip()[:300]
    count.save(update_fields=["settled_at", "explanation"])
    _tell_stock(count, actor, now)
    return count.pk


def _tell_stock(count: FastCount, actor: User, now: datetime) -> None:
    """Keep beside the stock row how many were counted away; where more is promised than is left, an alarm is raised."""
    place = places.holder_for_warehouse(count.warehouse_id)
    pool = locks.lock_pools([places.pool_for(model_id=count.model_id, place=place).pk]).popitem()[1]
    away = _counted_away(count.warehouse_id, pool)
    if away != pool.counted_away:
        Pool.objects.filter(pk=pool.pk).update(counted_away=away)
    if away > pool.counted_away:
        facts.warn_if_over({pool.pk}, actor=actor, now=now)


def _counted_away(warehouse_id: int, pool: Pool) -> int:
    """
    Units of the open counts without a number yet, vehicle by vehicle, beyond what its open load lists still take on
    promises of this stock: those are promised already, and stay promised once.
    """
    lacking: Counter[int] = Counter()
    counts = FastCount.objects.filter(warehouse=warehouse_id, model=pool.model_id, settled_at=None)
    for vehicle_id, quantity, given in counts.annotate(given=Count("units")).values_list(
        "vehicle_id", "quantity", "given"
    ):
        lacking[vehicle_id] += quantity - given
    lines = LoadLine.objects.filter(
        load_list__vehicle__in=lacking,
        load_list__state=LoadList.State.OPEN,
        reservation__pool=pool,
        reservation__state__in=LIVE,
    )
    for vehicle_id, wanted, loaded in lines.annotate(n=Count("loaded")).values_list(
        "load_list__vehicle_id", "wanted", "n"
    ):
        lacking[vehicle_id] -= min(lacking[vehicle_id], max(0, wanted - loaded))
    return lacking.total()


def _open(fast_count_id: int) -> FastCount:
    count = FastCount.objects.select_for_update(of=("self",)).select_related("model").filter(pk=fast_count_id).first()
    if count is None:
        raise NotThere(f"There is no count {fast_count_id}. Look at the list again.", where="fast_count_id")
    if count.settled_at is not None:
        raise CountSettled("This count is settled already. Scan further units on the vehicle's page.")
    return count


def _check(count: FastCount, units: list[Unit]) -> None:
    other = [unit for unit in units if unit.model_id != count.model_id]
    if other:
        raise NotOfThisCount(
            f"Number {other[0].number} is a {other[0].model.name}; {count.model.name} was counted. "
            "Scan it on the vehicle's page instead.",
            where="numbers",
        )
    near = FastCount.objects.exclude(pk=count.pk).filter(
        units__in=units,
        happened_at__gt=count.happened_at - SAME_NIGHT,
        happened_at__lt=count.happened_at + SAME_NIGHT,
    )
    if near.exists():
        raise NotOfThisCount(
            "One of these numbers was given for another count of the same night. Look at the tag again.",
            where="numbers",
        )
    before = set(count.units.values_list("pk", flat=True))
    if again := [unit for unit in units if unit.pk in before]:
        raise NotOfThisCount(
            f"Number {again[0].number} was given for this count before. Go on with the next.", where="numbers"
        )
    if len(before) + len(units) > count.quantity:
        raise NotOfThisCount(
            f"That would be {len(before) + len(units)} numbers for {count.quantity} counted. "
            "Scan the further ones on the vehicle's page.",
            where="numbers",
        )
