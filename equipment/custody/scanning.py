"""Scanning units out onto a vehicle and in at a warehouse."""

from datetime import datetime
from uuid import UUID

from django.contrib.auth.models import User

from equipment import alarms, places
from equipment.custody import book, loading
from equipment.custody.answers import Scan, Scanned
from equipment.custody.find import condition_away_from_job, gather, uncleaned_category
from equipment.custody.writing import Write
from equipment.models import Condition, Discrepancy, Holder, LoadLine, Move, UnitNow
from jobs.models import Job
from jobs.refusals import Refusal
from jobs.use_case import use_case

DIRTY_CAUTION = "Not yet cleaned: clean and test it before it runs anywhere."


class NotDecontaminated(Refusal):
    """A unit from category 3 water cannot go out before decontamination, a new filter and a test."""

    code = "not_decontaminated"


class AlreadyThere(Refusal):
    """The unit was scanned before and is where it is being scanned to."""

    code = "already_there"


@use_case("scan_out")
def scan_out(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    numbers: tuple[str, ...],
    vehicle_id: int,
    load_list_id: int | None = None,
    warehouse_id: int | None = None,
    job_id: int | None = None,
    happened_at: datetime | None = None,
    already_happened: bool = False,
) -> Scanned:
    """
    Load units onto a vehicle: for a line of the load list, for a job, or (neither) as the vehicle's own stock.

    `warehouse_id` is where it is done, if not on a load list. A unit that the record has elsewhere is loaded and a
    discrepancy opens. `already_happened`: reported afterwards, so nothing is refused; what must not be raises an alarm.

    :raises NotDecontaminated: if one of them is not yet decontaminated after category 3 water.
    :raises AlreadyThere: if all of them are already aboard.
    :raises UnitUnknown: if a number belongs to no unit.
    """
    to = places.holder_for_vehicle(vehicle_id)
    listed = loading.open_list(load_list_id, vehicle_id)
    source = listed.warehouse_id if listed is not None else warehouse_id
    expected = places.holder_for_warehouse(source) if source is not None else None
    job = Job.objects.filter(pk=job_id).only("pk").first() if job_id is not None else None
    found = gather(numbers, to=to, also_pools=loading.pools_of(listed))
    held = [row for row in found.rows if condition_away_from_job(row) == Condition.HELD_BACK and row.holder != to]
    if held and not already_happened:
        raise _not_decontaminated(held)
    write = Write.of(key, actor, now, happened_at, found.pools)
    scans, discrepancies = [], 0
    with write.together():
        for row in found.rows:
            if row.holder_id == to.pk:
                if already_happened:
                    book.still_there(row, Move.Why.FOUND, write)
                scans.append(_already(row, f"already aboard {to}"))
                continue
            before, said = row.holder, _where(row)
            scan, move = _load(row, to, listed, job, write)
            scans.append(scan)
            if expected is not None and before.pk != expected.pk:
                book.open_discrepancy(row, move, said=said, found=f"loaded onto {to} at {expected}", now=now)
                discrepancies += 1
            if row in held:
                _alarm_loaded(row, to, actor, now)
    loading.close_if_full(listed)
    _refuse_if_nothing_new(scans, already_happened)
    return Scanned(tuple(scans), discrepancies)


def _load(row: UnitNow, to: Holder, listed: loading.Listed | None, job: Job | None, write: Write) -> tuple[Scan, Move]:
    condition, category = condition_away_from_job(row), uncleaned_category(row)
    line = loading.line_for(listed, row.unit.model) if condition == Condition.READY else None
    reservation_id = None
    # A unit that has moved on since is out on what it was taken for then.
    if condition == Condition.READY and write.happened_at >= row.since:
        reservation_id = loading.reservation_for(row, line, job, to, write)
    after = book.After(to, condition, reservation_id=reservation_id, water_category=category)
    move = book.record(row, Move.Why.LOADED, after, write)
    word, said = "loaded", f"loaded onto {to}"
    if line is not None:
        loading.fill(line, row.unit, write.happened_at)
        word, said = _said_of_line(line, row, said)
    elif listed is not None:
        word, said = "not_on_list", f"loaded onto {to}; it is not on the list"
    caution = "" if condition == Condition.READY else DIRTY_CAUTION
    line_id = line.pk if line is not None else None
    return Scan(row.unit.number, row.unit.model.name, word, said, move.pk, line_id, caution), move


def _said_of_line(line: LoadLine, row: UnitNow, said: str) -> tuple[str, str]:
    if line.model_id == row.unit.model_id:
        return "loaded", said
    return "equivalent", f"{said} in place of {line.model.name}"


@use_case("scan_in")
def scan_in(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    numbers: tuple[str, ...],
    warehouse_id: int,
    hour_meters: tuple[tuple[str, float], ...] = (),
    happened_at: datetime | None = None,
    already_happened: bool = False,
) -> Scanned:
    """
    Take units in at a warehouse. One that ran at a job is not yet cleaned, or held back after category 3 water;
    one that never left the vehicle stays ready.

    :raises AlreadyThere: if all of them are already there.
    :raises UnitUnknown: if a number belongs to no unit.
    """
    to = places.holder_for_warehouse(warehouse_id)
    found = gather(numbers, to=to)
    meters, write = dict(hour_meters), Write.of(key, actor, now, happened_at, found.pools)
    scans, discrepancies = [], 0
    with write.together():
        for row in found.rows:
            if row.holder_id == to.pk:
                if already_happened:
                    book.still_there(row, Move.Why.FOUND, write)
                scans.append(_already(row, f"already at {to}"))
                continue
            kind, said = row.holder.kind, _where(row)
            condition, category = condition_away_from_job(row), uncleaned_category(row)
            why = {Holder.Kind.NOT_FOUND: Move.Why.FOUND, Holder.Kind.REPAIR: Move.Why.REPAIR}.get(
                Holder.Kind(kind), Move.Why.UNLOADED
            )
            after = book.After(to, condition, water_category=category)
            move = book.record(row, why, after, write, hour_meter=meters.get(row.unit.number))
            if kind in {Holder.Kind.JOB, Holder.Kind.WAREHOUSE}:
                book.open_discrepancy(row, move, said=said, found=f"brought in at {to}", now=now)
                discrepancies += 1
            elif kind == Holder.Kind.NOT_FOUND:
                Discrepancy.objects.filter(unit=row.unit, settled_at=None).update(
                    settled_at=now, explanation=f"found: brought in at {to}"
                )
            scans.append(_back(row, to, condition, move))
    _refuse_if_nothing_new(scans, already_happened)
    return Scanned(tuple(scans), discrepancies)


def _back(row: UnitNow, to: Holder, condition: str, move: Move) -> Scan:
    said = {
        Condition.READY: f"at {to}, ready",
        Condition.NOT_YET_CLEANED: f"at {to}, to be cleaned and tested",
        Condition.HELD_BACK: f"at {to}, held back: category 3 water, to the dirty side",
        Condition.BROKEN: f"at {to}, needs repair",
    }[Condition(condition)]
    word = "held_back" if condition == Condition.HELD_BACK else "back"
    caution = "Decontaminate, change the filter and test before it goes out." if word == "held_back" else ""
    return Scan(row.unit.number, row.unit.model.name, word, said, move.pk, caution=caution)


def _already(row: UnitNow, said: str) -> Scan:
    return Scan(row.unit.number, row.unit.model.name, "already_there", said)


def _refuse_if_nothing_new(scans: list[Scan], already_happened: bool) -> None:
    if already_happened or any(scan.word != "already_there" for scan in scans):
        return
    said = ". ".join(f"Number {scan.number} is {scan.said}" for scan in scans[:5])
    raise AlreadyThere(f"{said}. Nothing was changed; go on with the next.", where="numbers")


def _where(row: UnitNow) -> str:
    return f"{row.holder} ({row.get_condition_display()})"


def _not_decontaminated(rows: list[UnitNow]) -> NotDecontaminated:
    numbers = [row.unit.number for row in rows]
    return NotDecontaminated(
        f"Stop: {', '.join(numbers)} came back from category 3 water and is not yet decontaminated. "
        "Put it on the dirty side; decontaminate it, change its filter and test it, then load it. Take another one.",
        where="numbers",
        numbers=numbers,
    )


def _alarm_loaded(row: UnitNow, to: Holder, actor: User, now: datetime) -> None:
    alarms.raise_alarm(
        kind="not_decontaminated",
        text=f"Unit {row.unit.number} was loaded onto {to} without decontamination after category 3 water. "
        "Call the crew: it must not run anywhere.",
        area_id=to.area_id,
        actor=actor,
        now=now,
    )
