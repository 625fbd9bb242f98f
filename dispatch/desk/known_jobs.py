"""A job in one line, as the desk says it to a caller: which day, what stands there, when somebody was last there."""

from collections import Counter, defaultdict
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from equipment.models import Holder, UnitNow
from jobs.facts import JobLine
from jobs.models import Job, Visit

NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


@dataclass(frozen=True)
class KnownJob:
    """`said` = "day 2, ten air movers, two circuits, last visit 3:10 PM"."""

    job_id: int
    number: str
    stage_words: str
    where: str
    said: str


def known_jobs(jobs: tuple[JobLine, ...], *, now: datetime) -> tuple[KnownJob, ...]:
    """The lines of some jobs (3 queries, none for no job)."""
    if not jobs:
        return ()
    ids = [job.job_id for job in jobs]
    units: dict[int, Counter[str]] = defaultdict(Counter)
    there = UnitNow.objects.filter(holder__kind=Holder.Kind.JOB, holder__job_id__in=ids)
    for job_id, kind in there.values_list("holder__job_id", "unit__model__kind"):
        units[job_id][kind] += 1
    visits = Visit.objects.filter(job_id__in=ids, arrived_at__isnull=False).order_by("arrived_at")
    last = dict(visits.values_list("job_id", "arrived_at"))
    circuits = {pk: len(rows) for pk, rows in Job.objects.filter(pk__in=ids).values_list("pk", "circuits")}
    return tuple(
        KnownJob(
            job.job_id,
            job.number,
            job.stage_words,
            f"{job.street}, {job.town}",
            _said(job, units[job.job_id], circuits.get(job.job_id, 0), last.get(job.job_id), now),
        )
        for job in jobs
    )


def _said(job: JobLine, units: Counter[str], circuits: int, last: datetime | None, now: datetime) -> str:
    zone = ZoneInfo(job.time_zone)
    today = now.astimezone(zone).date()
    parts = [f"day {(today - job.opened_at.astimezone(zone).date()).days + 1}"]
    parts += [_count(count, kind.replace("_", " ")) for kind, count in sorted(units.items())]
    if circuits:
        parts.append(_count(circuits, "circuit"))
    if last is None:
        parts.append("nobody was there yet")
    else:
        local = last.astimezone(zone)
        day = "" if local.date() == today else f"{local:%a %b} {local.day}, "
        parts.append(f"last visit {day}{local:%I:%M %p}".replace(" 0", " "))
    return ", ".join(parts)


def _count(number: int, what: str) -> str:
    word = NUMBERS[number] if number < len(NUMBERS) else str(number)
    name = what.upper() if what in ("lgr", "afd") else what
    return f"{word} {name}" + ("" if number == 1 else "s")
