"""Units at running jobs that are no longer needed there: the room is dry, or more stands there than was asked for."""

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from django.db.models import Count, DateTimeField, Exists, F, OuterRef, Subquery, Value
from django.db.models.functions import Coalesce

from equipment.models import Condition, Holder, SizingReport, UnitNow
from jobs.models import Job, MaterialPoint, MaterialReading

_NEVER = Value(datetime(1970, 1, 1, tzinfo=UTC), output_field=DateTimeField())


@dataclass(frozen=True)
class Spare:
    """
    So many units of a model that a job could give back today; a suggestion, the lead decides.

    `why` says it in words; `hours_since_goal` is None where the room is not dry but more stands there than was asked.
    """

    job_id: int
    job_number: str
    town: str
    lat: float
    lon: float
    model_id: int
    model: str
    kind: str
    count: int
    why: str
    hours_since_goal: int | None


@dataclass(frozen=True)
class _Standing:
    job_id: int
    job_number: str
    town: str
    lat: float
    lon: float
    stage: str
    room: str
    model_id: int
    model: str
    kind: str
    count: int


def spare_at_jobs(*, area_id: int, kinds: Iterable[str], now: datetime) -> tuple[Spare, ...]:
    """
    What running jobs could give back, of these kinds. From category 3 water no unit goes straight on, so none counts.

    Three queries.
    """
    standing = _standing(area_id, frozenset(kinds))
    jobs = {row.job_id for row in standing}
    dry, asked = dry_since(jobs), _asked_for(jobs)
    by_job: dict[int, list[_Standing]] = defaultdict(list)
    for row in standing:
        by_job[row.job_id].append(row)
    return tuple(
        spare for job_id, rows in by_job.items() for spare in _of_job(rows, dry[job_id], asked.get(job_id), now)
    )


def _of_job(
    rows: list[_Standing], dry: dict[str, datetime | None], asked: Counter[str] | None, now: datetime
) -> Iterable[Spare]:
    at_goal = rows[0].stage == Job.Stage.AT_GOAL
    beyond = Counter[str]()
    if asked is not None and not at_goal:
        for row in rows:
            beyond[row.kind] += row.count
        beyond.subtract(asked)
    whole = [since for since in dry.values() if since is not None]
    for row in rows:
        since = max(whole, default=None) if at_goal else dry.get(row.room)
        if at_goal or since is not None:
            hours = None if since is None else int((now - since).total_seconds() // 3600)
            what = "the job" if at_goal else row.room
            ago = "" if hours is None else f" for {hours} h"
            beyond[row.kind] -= row.count
            yield _spare(row, row.count, f"{what} at goal{ago}", hours)
    for row in rows:
        extra = min(row.count, beyond[row.kind])
        if extra > 0 and not at_goal and dry.get(row.room) is None:
            beyond[row.kind] -= extra
            yield _spare(row, extra, "more than the sizing asks for", None)


def _spare(row: _Standing, count: int, why: str, hours: int | None) -> Spare:
    return Spare(
        row.job_id,
        row.job_number,
        row.town,
        row.lat,
        row.lon,
        row.model_id,
        row.model,
        row.kind,
        count,
        why,
        hours,
    )


def _standing(area_id: int, kinds: frozenset[str]) -> list[_Standing]:
    counted = (
        UnitNow.objects.filter(
            holder__kind=Holder.Kind.JOB,
            holder__area=area_id,
            holder__job__stage__in=[Job.Stage.DRYING, Job.Stage.AT_GOAL],
            unit__model__kind__in=kinds,
            unit__model__loan=None,
            condition=Condition.IN_USE,
        )
        .exclude(water_category=3)
        .exclude(holder__job__category=3)
        .values_list(
            "holder__job_id",
            "holder__job__number",
            "holder__job__town",
            "holder__job__lat",
            "holder__job__lon",
            "holder__job__stage",
            "room_name",
            "unit__model_id",
            "unit__model__name",
            "unit__model__kind",
        )
        .annotate(count=Count("pk"))
        .order_by("holder__job__number", "room_name", "unit__model__code")
    )
    return [_Standing(*row) for row in counted]


def dry_since(job_ids: Collection[int]) -> defaultdict[int, dict[str, datetime | None]]:
    """By job and room: since when every point of the room is at its goal; None while one is above or not read."""
    standing = MaterialReading.objects.filter(point=OuterRef("pk"), replaced_by__isnull=True)
    wet = standing.filter(value__gt=OuterRef("goal")).order_by("-taken_at").values("taken_at")[:1]
    first_dry = (
        standing.filter(value__lte=OuterRef("goal"), taken_at__gt=OuterRef("last_wet"))
        .order_by("taken_at")
        .values("taken_at")[:1]
    )
    points = (
        MaterialPoint.objects.filter(job__in=job_ids)
        .annotate(last_wet=Coalesce(Subquery(wet), _NEVER))
        .annotate(dry_since=Subquery(first_dry))
        .values_list("job_id", "room_name", "dry_since")
    )
    found: defaultdict[int, dict[str, datetime | None]] = defaultdict(dict)
    for job_id, room, since in points:
        rooms = found[job_id]
        before = rooms.get(room, since)
        rooms[room] = None if before is None or since is None else max(before, since)
    return found


def _asked_for(job_ids: set[int]) -> dict[int, Counter[str]]:
    """By job: units by kind that the newest sizing asks for, found in stock or not."""
    newer = SizingReport.objects.filter(job=OuterRef("job"), made_at__gt=OuterRef("made_at"))
    rows = SizingReport.objects.filter(~Exists(newer), job__in=job_ids).order_by("pk")
    return {
        job_id: _by_kind(mix or (), short or ())
        for job_id, mix, short in rows.values_list("job_id", F("report__mix"), F("report__short"))
    }


def _by_kind(mix: Iterable[dict[str, Any]], short: Iterable[dict[str, Any]]) -> Counter[str]:
    total = Counter[str]()
    for row in mix:
        total[row["kind"]] += row["count"]
    for row in short:
        if row["unit"] == "count":
            total[row["kind"]] += max(0, row["wanted"] - row["found"])
    return total
