"""The drying log: points, readings, corrections that keep the old value, and when a job is dry."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.contrib.auth.models import User

from jobs import journal
from jobs.drying_values import AirValue, MaterialValue, doubts, require_possible
from jobs.models import AirReading, Job, MaterialPoint, MaterialReading, Visit
from jobs.refusals import NotThere, Refusal, Unusable
from jobs.use_case import key_for, use_case
from jobs.visits import locked_job, turn_into_pick_up


class PointNotThere(NotThere):
    """The job has no point of this number."""

    code = "point_not_found"


class PointNumberTaken(Refusal):
    """The job already has a point of this number."""

    code = "point_number_taken"


class ReadingNotThere(NotThere):
    """No such reading."""

    code = "reading_not_found"


class ReadingCorrectedBefore(Refusal):
    """The reading was already corrected: the correction is what can be corrected now."""

    code = "reading_corrected_before"


class ReadingsDoubtful(Refusal):
    """A value that looks wrong by ten, or against its neighbors; sent again as confirmed it is kept."""

    code = "readings_doubtful"
    status = 422


class VisitOfOtherJob(Refusal):
    """The visit belongs to another job."""

    code = "visit_of_other_job"


class CorrectionNeedsReason(Refusal):
    """A correction says why, since the old value stays beside it."""

    code = "correction_needs_reason"
    status = 422


@dataclass(frozen=True)
class PointAdded:
    """A marked point."""

    point_id: int
    number: int


@dataclass(frozen=True)
class ReadingsRecorded:
    """The kept readings in the order in which they came; whether every point of the job is at its goal now."""

    air_ids: tuple[int, ...]
    material_ids: tuple[int, ...]
    at_goal: bool
    stage: str


@dataclass(frozen=True)
class ReadingCorrected:
    """The new row; the old one stays and says which row took its place."""

    reading_id: int
    replaces_id: int
    at_goal: bool
    stage: str


@use_case("add_point")
def add_point(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    job_id: int,
    room_name: str,
    material: str,
    meter: str,
    scale: str,
    dry_standard: float,
    goal: float,
    place: str = "",
    number: int | None = None,
) -> PointAdded:
    """
    Mark a point: the same place with the same meter every day. `dry_standard` and `goal` are in the meter's scale.

    :raises PointNumberTaken: if the number is in use; without a number the next one is taken.
    """
    job = locked_job(job_id)
    require_possible(dry_standard, "dry_standard")
    require_possible(goal, "goal")
    if goal < dry_standard:
        raise Unusable("The goal lies at the dry standard or a little above it, never below.", where="goal")
    numbers = set(job.points.values_list("number", flat=True))
    if number in numbers:
        raise PointNumberTaken(f"Point {number} is already marked. The next free one is {max(numbers) + 1}.")
    point = MaterialPoint.objects.create(
        job=job,
        number=number or max(numbers, default=0) + 1,
        room_name=room_name[:60],
        place=place[:80],
        material=material[:30],
        meter=meter[:40],
        scale=scale[:20],
        dry_standard=dry_standard,
        goal=goal,
    )
    journal.note(kind="point_added", actor=actor, now=now, job=job, data={"point": point.number})
    return PointAdded(point.pk, point.number)


@use_case("record_readings")
def record_readings(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    job_id: int,
    visit_id: int | None,
    air: tuple[AirValue, ...] = (),
    materials: tuple[MaterialValue, ...] = (),
    confirmed: bool = False,
) -> ReadingsRecorded:
    """
    Keep the readings of one visit. Values that look wrong by ten are asked about once and kept when confirmed.

    :raises Unusable: for what no instrument shows.
    :raises ReadingsDoubtful: naming every doubtful value, unless `confirmed`.
    :raises PointNotThere: if the job has no such point.
    """
    job = locked_job(job_id)
    if visit_id is not None and not Visit.objects.filter(pk=visit_id, job=job).exists():
        raise VisitOfOtherJob("This visit belongs to another job. Open the right stop and record there.")
    points = {point.number: point for point in job.points.all()}
    for value in materials:
        if value.point not in points:
            raise PointNotThere(f"This job has no point {value.point}. Mark it first.", where=f"point {value.point}")
    found = doubts(air, materials, points, _current(job))
    if found and not confirmed:
        raise ReadingsDoubtful(
            f"{found[0].message} Correct it, or confirm that it is meant.",
            where=found[0].where,
            doubts=[{"where": doubt.where, "message": doubt.message} for doubt in found],
        )
    common = {"visit_id": visit_id, "recorded_at": now, "taken_by": actor}
    air_rows = AirReading.objects.bulk_create(
        AirReading(
            job=job,
            where=value.where,
            chamber_name=value.chamber,
            unit_number=value.unit_number,
            dry_bulb_f=value.dry_bulb_f,
            rh_pct=value.rh_pct,
            taken_at=value.taken_at or now,
            key=key_for(key, f"air {index}"),
            **common,
        )
        for index, value in enumerate(air)
    )
    material_rows = MaterialReading.objects.bulk_create(
        MaterialReading(
            point=points[value.point],
            value=value.value,
            taken_at=value.taken_at or now,
            key=key_for(key, f"material {index}"),
            **common,
        )
        for index, value in enumerate(materials)
    )
    journal.note(
        kind="readings_recorded",
        actor=actor,
        now=now,
        job=job,
        data={"visit": visit_id, "air": len(air_rows), "materials": len(material_rows), "confirmed": bool(found)},
    )
    at_goal = _follow_readings(job, actor, now)
    return ReadingsRecorded(
        tuple(row.pk for row in air_rows), tuple(row.pk for row in material_rows), at_goal, job.stage
    )


@use_case("correct_reading")
def correct_reading(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    kind: str,
    reading_id: int,
    reason: str,
    value: float | None = None,
    dry_bulb_f: float | None = None,
    rh_pct: float | None = None,
) -> ReadingCorrected:
    """
    Put a new row in the place of a reading (`kind`: `air` or `material`); the old one stays, with its author and time.

    :raises CorrectionNeedsReason: without a reason.
    :raises ReadingCorrectedBefore: if another row already took its place.
    """
    if not reason.strip():
        raise CorrectionNeedsReason("Say why the reading is corrected; the old value stays beside it.", where="reason")
    old = _reading(kind, reading_id)
    job = locked_job(old.job_id if isinstance(old, AirReading) else old.point.job_id)
    if type(old).objects.filter(replaces_id=old.pk).exists():
        raise ReadingCorrectedBefore("This reading was corrected before. Correct the newer one.", reading=reading_id)
    common: dict[str, Any] = {
        "visit_id": old.visit_id,
        "taken_at": old.taken_at,
        "recorded_at": now,
        "taken_by": actor,
        "key": key_for(key, "correction"),
        "replaces": old,
        "reason": reason.strip()[:300],
    }
    new: AirReading | MaterialReading
    if isinstance(old, AirReading):
        air = AirValue(
            where=old.where,
            dry_bulb_f=old.dry_bulb_f if dry_bulb_f is None else dry_bulb_f,
            rh_pct=old.rh_pct if rh_pct is None else rh_pct,
        )
        doubts((air,), (), {}, {})
        new = AirReading.objects.create(
            job=job,
            where=old.where,
            chamber_name=old.chamber_name,
            unit_number=old.unit_number,
            dry_bulb_f=air.dry_bulb_f,
            rh_pct=air.rh_pct,
            **common,
        )
    else:
        if value is None:
            raise Unusable("Give the value that the meter really showed.", where="value")
        require_possible(value, "value")
        new = MaterialReading.objects.create(point=old.point, value=value, **common)
    journal.note(kind="reading_corrected", actor=actor, now=now, job=job, data={"old": old.pk, "new": new.pk})
    at_goal = _follow_readings(job, actor, now)
    return ReadingCorrected(new.pk, old.pk, at_goal, job.stage)


def _reading(kind: str, reading_id: int) -> AirReading | MaterialReading:
    found: AirReading | MaterialReading | None
    if kind == "air":
        found = AirReading.objects.filter(pk=reading_id).first()
    elif kind == "material":
        found = MaterialReading.objects.select_related("point").filter(pk=reading_id).first()
    else:
        raise Unusable("A reading is of one kind: air or material.", where="kind")
    if found is None:
        raise ReadingNotThere(f"There is no {kind} reading {reading_id}. Choose one from the log.")
    return found


def _current(job: Job) -> dict[int, float]:
    """The newest standing value of each point, by point number."""
    rows = MaterialReading.objects.filter(point__job=job, replaced_by__isnull=True).order_by("taken_at", "pk")
    return dict(rows.values_list("point__number", "value"))


def _follow_readings(job: Job, actor: User, now: datetime) -> bool:
    """Move the job to `at goal`, or back, by its readings alone; never by forecast. Whether every point is at goal."""
    current = _current(job)
    goals = dict(job.points.values_list("number", "goal"))
    at_goal = bool(goals) and all(number in current and current[number] <= goal for number, goal in goals.items())
    if at_goal and job.stage in (Job.Stage.SENT, Job.Stage.DRYING):
        _set_stage(job, Job.Stage.AT_GOAL, "reading_at_goal", actor, now)
        turn_into_pick_up(job=job, actor=actor, now=now)
    elif not at_goal and job.stage == Job.Stage.AT_GOAL:
        _set_stage(job, Job.Stage.DRYING, "reading_above_goal", actor, now)
    return at_goal


def _set_stage(job: Job, stage: Job.Stage, kind: str, actor: User, now: datetime) -> None:
    job.stage = stage
    job.save(update_fields=["stage"])
    journal.note(kind=kind, actor=actor, now=now, job=job)
