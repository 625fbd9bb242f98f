"""Units at jobs: placed, taken up, moved to another room or straight to another job."""

from datetime import datetime
from uuid import UUID

from django.contrib.auth.models import User

from equipment import alarms, locks, places
from equipment.custody import after_moves, book
from equipment.custody.answers import Scan, Scanned
from equipment.custody.find import condition_away_from_job, gather, uncleaned_category
from equipment.custody.writing import Write
from equipment.models import Condition, Holder, Move, UnitNow
from jobs import journal
from jobs.models import Job
from jobs.refusals import Refusal
from jobs.use_case import use_case


class DirtyToNextJob(Refusal):
    """A unit goes straight to another job only from a clean loss."""

    code = "dirty_to_next_job"


@use_case("place_units")
def place_units(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    job_id: int,
    room_name: str,
    numbers: tuple[str, ...],
    vehicle_id: int | None = None,
    hour_meters: tuple[tuple[str, float], ...] = (),
    happened_at: datetime | None = None,
) -> Scanned:
    """
    Place units in a room of a job. They are drawn on the job's reservation; without one the fact makes its own.

    `vehicle_id`: what they were taken from, where known; a unit that the record has elsewhere is placed all the same
    and a discrepancy opens. A unit that stands in this room already is only seen again.

    :raises UnitUnknown: if a number belongs to no unit.
    :raises NotThere: if there is no such job.
    """
    to = places.holder_for_job(job_id)
    expected = places.holder_for_vehicle(vehicle_id) if vehicle_id is not None else None
    scanned = _to_job(to, room_name, numbers, hour_meters, Write.of(key, actor, now, happened_at), expected)
    _note("units_placed", to.job, scanned, actor, now, happened_at)
    return scanned


@use_case("move_units")
def move_units(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    numbers: tuple[str, ...],
    to_job_id: int,
    room_name: str,
    hour_meters: tuple[tuple[str, float], ...] = (),
    happened_at: datetime | None = None,
    already_happened: bool = False,
) -> Scanned:
    """
    Move units from where they stand to a room of a job, as one event: between rooms, or from a clean loss to the next.

    :raises DirtyToNextJob: if one comes from category 3 water and the move has not already happened.
    :raises UnitUnknown: if a number belongs to no unit.
    """
    to = places.holder_for_job(to_job_id)
    locks.lock_holder(to.pk)
    dirty = [
        row.unit.number
        for row in gather(numbers).rows
        if row.holder_id != to.pk and condition_away_from_job(row) == Condition.HELD_BACK
    ]
    if dirty and not already_happened:
        raise DirtyToNextJob(
            f"Stop: {', '.join(dirty)} stood in category 3 water. Take it back to the warehouse to be decontaminated; "
            "bring another unit to the next job.",
            where="numbers",
            numbers=dirty,
        )
    scanned = _to_job(to, room_name, numbers, hour_meters, Write.of(key, actor, now, happened_at), None)
    _note("units_placed", to.job, scanned, actor, now, happened_at)
    return scanned


def _to_job(
    to: Holder,
    room_name: str,
    numbers: tuple[str, ...],
    hour_meters: tuple[tuple[str, float], ...],
    write: Write,
    expected: Holder | None,
) -> Scanned:
    locks.lock_holder(to.pk)
    job = Job.objects.get(holder=to)
    meters, scans, discrepancies, came = dict(hour_meters), [], 0, []
    with write.together():
        for row in gather(numbers).rows:
            unit, before, said = row.unit, row.holder, f"{row.holder} ({row.get_condition_display()})"
            if before.pk == to.pk and row.room_name == room_name:
                if write.late:
                    book.still_there(row, Move.Why.PLACED, write)
                scans.append(Scan(unit.number, unit.model.name, "already_there", f"already in {room_name}"))
                continue
            held = condition_away_from_job(row) == Condition.HELD_BACK and before.pk != to.pk
            category = max((c for c in (uncleaned_category(row), job.category) if c is not None), default=None)
            between_jobs = before.kind == Holder.Kind.JOB and before.pk != to.pk
            why = Move.Why.JOB_TO_JOB if between_jobs else Move.Why.PLACED
            after = book.After(to, Condition.IN_USE, room_name, _drawn_on(row, job, write), category)
            move = book.record(row, why, after, write, hour_meter=meters.get(unit.number))
            if before.kind not in {Holder.Kind.VEHICLE, Holder.Kind.JOB} or (expected and before.pk != expected.pk):
                book.open_discrepancy(row, move, said=said, found=f"placed at {to}", now=write.now)
                discrepancies += 1
            if held and job.category != 3:
                _alarm(f"Unit {unit.number} runs at {to} without decontamination after category 3 water.", job, write)
            if before.pk != to.pk:
                came.append(unit)
            word = "moved" if before.kind == Holder.Kind.JOB else "placed"
            scans.append(Scan(unit.number, unit.model.name, word, f"{word} in {room_name or 'the job'}", move.pk))
    after_moves.arrived(job, came, at=write.happened_at, actor=write.actor, now=write.now)
    if job.stage == Job.Stage.CLOSED and any(scan.move_id for scan in scans):
        _alarm(f"Units were placed at {to}, which is closed. Find out why, or bring them back.", job, write)
    return Scanned(tuple(scans), discrepancies)


def _drawn_on(row: UnitNow, job: Job, write: Write) -> int | None:
    if row.reservation is not None and row.reservation.job_id == job.pk:
        return row.reservation_id
    # In no stock (not yet cleaned, or nobody knew of it): nothing was promised that it could be drawn from.
    if row.pool is None or write.happened_at < row.since:
        return None
    return write.promise_to_draw_on(pool=row.pool, job=job).pk


@use_case("take_up_units")
def take_up_units(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    job_id: int,
    vehicle_id: int,
    numbers: tuple[str, ...],
    hour_meters: tuple[tuple[str, float], ...] = (),
    happened_at: datetime | None = None,
) -> Scanned:
    """
    Take units up from a job onto a vehicle: not yet cleaned, or held back after category 3 water.

    :raises UnitUnknown: if a number belongs to no unit.
    :raises NotThere: if there is no such job or vehicle.
    """
    origin, to = places.holder_for_job(job_id), places.holder_for_vehicle(vehicle_id)
    job = origin.job
    assert job is not None
    write, meters = Write.of(key, actor, now, happened_at), dict(hour_meters)
    scans, discrepancies, gone = [], 0, []
    with write.together():
        for row in gather(numbers, to=to).rows:
            unit = row.unit
            if row.holder_id == to.pk and row.condition != Condition.READY:
                if write.late:
                    book.still_there(row, Move.Why.TAKEN_UP, write)
                scans.append(Scan(unit.number, unit.model.name, "already_there", f"already aboard {to}"))
                continue
            elsewhere = row.holder_id != origin.pk
            gone.append(unit)
            said = f"{row.holder} ({row.get_condition_display()})"
            category = max((c for c in (uncleaned_category(row), job.category) if c is not None), default=None)
            condition = Condition.HELD_BACK if category == 3 else Condition.NOT_YET_CLEANED
            if row.condition == Condition.BROKEN:
                condition = Condition.BROKEN
            after = book.After(to, condition, water_category=category, ran_at=job.pk)
            move = book.record(row, Move.Why.TAKEN_UP, after, write, hour_meter=meters.get(unit.number))
            if elsewhere:
                book.open_discrepancy(row, move, said=said, found=f"taken up from {origin}", now=now)
                discrepancies += 1
            caution = "Keep it apart from clean equipment." if condition == Condition.HELD_BACK else ""
            scans.append(
                Scan(unit.number, unit.model.name, "taken_up", f"taken up onto {to}", move.pk, caution=caution)
            )
    after_moves.left(job, origin, gone, actor=actor, now=now)
    scanned = Scanned(tuple(scans), discrepancies)
    _note("units_taken_up", job, scanned, actor, now, happened_at)
    return scanned


def _note(
    kind: str, job: Job | None, scanned: Scanned, actor: User, now: datetime, happened_at: datetime | None
) -> None:
    moved = [scan.number for scan in scanned.scans if scan.move_id is not None]
    if moved:
        journal.note(kind=kind, actor=actor, now=now, job=job, happened_at=happened_at, data={"numbers": moved})


def _alarm(text: str, job: Job, write: Write) -> None:
    alarms.raise_alarm(kind="custody", text=text, area_id=job.area_id, job=job, actor=write.actor, now=write.now)
