"""The drying log as it is read: yesterday beside today, grains per pound worked out, corrections kept visible."""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from jobs.models import AirReading, Job, MaterialPoint, MaterialReading
from jobs.science.psychrometrics import ImpossibleAir, air_state


@dataclass(frozen=True)
class AirLine:
    """Air at one time and place; `gpp` in grains of water per pound of dry air at the job's elevation."""

    reading_id: int
    taken_at: datetime
    where: str
    where_words: str
    chamber: str
    unit_number: str
    dry_bulb_f: float
    rh_pct: float
    gpp: float | None
    corrects: float | None
    reason: str


@dataclass(frozen=True)
class Value:
    """One value at a point; `before_correction` is what stood there first."""

    reading_id: int
    taken_at: datetime
    value: float
    before_correction: float | None
    reason: str


@dataclass(frozen=True)
class PointLine:
    """One marked point with its values, oldest first. `fell_by_a_day` from the last two values; None without two."""

    point_id: int
    number: int
    room_name: str
    place: str
    material: str
    meter: str
    scale: str
    dry_standard: float
    goal: float
    values: tuple[Value, ...]
    last: Value | None
    before: Value | None
    at_goal: bool
    fell_by_a_day: float | None


@dataclass(frozen=True)
class DryingLog:
    """The whole log of a job."""

    job_id: int
    points: tuple[PointLine, ...]
    air: tuple[AirLine, ...]
    above_goal: int
    read_at: datetime | None


def drying_log(job_id: int) -> DryingLog:
    """
    The log of a job (4 queries).

    :raises Job.DoesNotExist: if there is no such job.
    """
    found = drying_logs([job_id]).get(job_id)
    if found is None:
        raise Job.DoesNotExist(f"there is no job with the id {job_id}")
    return found


def drying_logs(job_ids: Collection[int]) -> dict[int, DryingLog]:
    """The logs of several jobs by id (4 queries, whatever their number)."""
    elevations = dict(Job.objects.filter(pk__in=job_ids).values_list("pk", "elevation_ft"))
    values: dict[int, list[Value]] = defaultdict(list)
    standing = MaterialReading.objects.filter(point__job__in=job_ids, replaced_by__isnull=True)
    for row in standing.select_related("replaces").order_by("taken_at", "pk"):
        old = row.replaces.value if row.replaces else None
        values[row.point_id].append(Value(row.pk, row.taken_at, row.value, old, row.reason))
    points: dict[int, list[PointLine]] = defaultdict(list)
    for point in MaterialPoint.objects.filter(job__in=job_ids):
        points[point.job_id].append(_point(point, tuple(values[point.pk])))
    air: dict[int, list[AirLine]] = defaultdict(list)
    air_rows = AirReading.objects.filter(job__in=job_ids, replaced_by__isnull=True).select_related("replaces")
    for reading in air_rows.order_by("taken_at", "pk"):
        air[reading.job_id].append(_air(reading, elevations[reading.job_id]))
    return {pk: _log(pk, tuple(points[pk]), tuple(air[pk])) for pk in elevations}


def _log(job_id: int, points: tuple[PointLine, ...], air: tuple[AirLine, ...]) -> DryingLog:
    times = [line.last.taken_at for line in points if line.last] + [line.taken_at for line in air]
    above = sum(1 for point in points if not point.at_goal)
    return DryingLog(job_id, points, air, above, max(times) if times else None)


def _point(row: MaterialPoint, values: tuple[Value, ...]) -> PointLine:
    last = values[-1] if values else None
    before = values[-2] if len(values) > 1 else None
    fell = None
    if last and before and last.taken_at > before.taken_at:
        days = (last.taken_at - before.taken_at).total_seconds() / 86_400
        fell = round((before.value - last.value) / days, 1)
    return PointLine(
        row.pk,
        row.number,
        row.room_name,
        row.place,
        row.material,
        row.meter,
        row.scale,
        row.dry_standard,
        row.goal,
        values,
        last,
        before,
        last is not None and last.value <= row.goal,
        fell,
    )


def _air(row: AirReading, elevation_ft: int) -> AirLine:
    try:
        gpp: float | None = round(air_state(row.dry_bulb_f, row.rh_pct, elevation_ft).gpp, 1)
    except ImpossibleAir:
        # Kept as it was confirmed; no figure follows from it.
        gpp = None
    return AirLine(
        row.pk,
        row.taken_at,
        row.where,
        row.get_where_display(),
        row.chamber_name,
        row.unit_number,
        row.dry_bulb_f,
        row.rh_pct,
        gpp,
        row.replaces.rh_pct if row.replaces else None,
        row.reason,
    )
