"""Hour meters at a job against the clock: what did not run is said at once, and the reason asked."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.contrib.auth.models import User

from equipment import alarms, places
from equipment.models import Holder, MeterReading, Move, Unit, UnitNow
from equipment.stock.run_hours import HoursRun, MeterSeen, Says, hours_run
from jobs import journal
from jobs.happened import when
from jobs.models import Job
from jobs.refusals import Refusal, Unusable
from jobs.use_case import key_for, use_case

MOST_HOURS = 200_000


class HoursAsked(Refusal):
    """A meter shows hours that did not run, or that cannot be; sent again with the reason, or confirmed, it is kept."""

    code = "hours_asked"
    status = 422


class MeterNotHere(Refusal):
    """A meter is read of a unit that the record does not have at this job."""

    code = "meter_not_here"
    status = 422


@dataclass(frozen=True)
class MeterValue:
    """What one unit's meter shows, in hours; `reason` says why it did not run."""

    number: str
    hours: float
    reason: str = ""


@dataclass(frozen=True)
class MeterLine:
    """A meter reading as it is listed; hours between this look and the one before."""

    number: str
    model: str
    hours: float
    says: str
    words: str
    clock_h: float | None
    ran_h: float | None
    silent_h: float | None
    reason: str
    read_at: datetime
    recorded_at: datetime
    by: str


@dataclass(frozen=True)
class MetersRead:
    """The readings in the order in which they came."""

    lines: tuple[MeterLine, ...]


@use_case("read_meters")
def read_meters(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    job_id: int,
    meters: tuple[MeterValue, ...],
    visit_id: int | None = None,
    confirmed: bool = False,
    happened_at: datetime | None = None,
) -> MetersRead:
    """
    Keep what hour meters at a job show. Where hours are missing the reason is asked once; `confirmed` keeps it without.

    :raises MeterNotHere: for a unit that is not listed there.
    :raises HoursAsked: naming every unit that did not run, or whose meter cannot show that, unless `confirmed`.
    """
    holder, at = places.holder_for_job(job_id), when(happened_at, now)
    job = holder.job
    assert job is not None
    units = {row.unit.number: row.unit for row in UnitNow.objects.filter(holder=holder).select_related("unit__model")}
    _require_usable(meters, units, job)
    before = seen_before([units[value.number] for value in meters], holder, before=at)
    run = {value.number: _run(value, before.get(units[value.number].pk), at) for value in meters}
    asked = [value for value in meters if run[value.number].asks and not value.reason.strip()]
    if asked and not confirmed:
        said = [{"where": f"meter {v.number}", "message": f"Unit {v.number} {_words(run[v.number])}."} for v in asked]
        raise HoursAsked(
            f"{said[0]['message']} Say why if you know, or confirm that it is so.", where=said[0]["where"], doubts=said
        )
    rows = []
    for value in meters:
        found = run[value.number]
        rows.append(
            MeterReading.objects.create(
                key=key_for(key, f"meter {value.number}"),
                unit=units[value.number],
                job=job,
                visit_id=visit_id,
                hours=value.hours,
                says=found.says,
                clock_h=found.clock_h,
                ran_h=found.ran_h,
                silent_h=found.silent_h,
                reason=value.reason.strip()[:200],
                read_at=at,
                recorded_at=now,
                read_by=actor,
            )
        )
        if found.says == Says.SILENT:
            text = f"{job.number}: unit {value.number} {_words(found)} ({value.reason.strip() or 'reason not known'})."
            alarms.raise_alarm(kind="silent_hours", text=text, area_id=job.area_id, job=job, actor=actor, now=now)
    data = {"visit": visit_id, "meters": len(rows), "silent": sum(row.says == Says.SILENT for row in rows)}
    journal.note(kind="meters_read", actor=actor, now=now, job=job, happened_at=at, data=data)
    return MetersRead(tuple(_line(row) for row in rows))


def seen_before(units: Iterable[Unit], holder: Holder, *, before: datetime | None = None) -> Mapping[int, MeterSeen]:
    """
    The newest earlier look at each unit's meter since it stands at the job, by the unit's id (2 queries).

    A look counts from the unit's last move to the job: on the road nothing runs.
    """
    seen: dict[int, MeterSeen] = {}
    ids = [unit.pk for unit in units]
    moves = Move.objects.filter(unit__in=ids, corrected_by__isnull=True).order_by("happened_at", "pk")
    readings = MeterReading.objects.filter(unit__in=ids, job=holder.job_id).order_by("read_at", "pk")
    if before is not None:
        moves, readings = moves.filter(happened_at__lt=before), readings.filter(read_at__lt=before)
    here: dict[int, int] = {}
    since: dict[int, datetime] = {}
    for unit_id, to, at, hours in moves.values_list("unit", "to_holder", "happened_at", "hour_meter"):
        if to == holder.pk and here.get(unit_id) != to:
            since[unit_id] = at
            seen.pop(unit_id, None)
        if to == holder.pk and hours is not None:
            seen[unit_id] = MeterSeen(hours, at)
        here[unit_id] = to
    for unit_id, at, hours in readings.values_list("unit", "read_at", "hours"):
        if unit_id in since and at >= since[unit_id] and (unit_id not in seen or at > seen[unit_id].at):
            seen[unit_id] = MeterSeen(hours, at)
    return seen


def meters_of(job_id: int) -> tuple[MeterLine, ...]:
    """The job's meter readings in order of time (1 query)."""
    rows = MeterReading.objects.filter(job_id=job_id).select_related("unit__model", "read_by")
    return tuple(_line(row) for row in rows.order_by("read_at", "pk"))


def _require_usable(meters: tuple[MeterValue, ...], units: Mapping[str, Unit], job: Job) -> None:
    if not meters:
        raise Unusable("Type what at least one hour meter shows.", where="meters")
    for value in meters:
        if value.number not in units:
            raise MeterNotHere(
                f"Unit {value.number} is not on record at {job.number}. Place it here first, then read its meter.",
                where=f"meter {value.number}",
            )
        if not 0 <= value.hours <= MOST_HOURS:
            raise Unusable(f"An hour meter shows from 0 to {MOST_HOURS} hours.", where=f"meter {value.number}")
    if len({value.number for value in meters}) != len(meters):
        raise Unusable("One value for each unit. Look at the numbers again.", where="meters")


def _run(value: MeterValue, before: MeterSeen | None, at: datetime) -> HoursRun:
    return hours_run(before, MeterSeen(value.hours, at))


def _words(run: HoursRun) -> str:
    if run.says == Says.BACKWARD:
        return "shows fewer hours than before"
    if run.clock_h is None or run.ran_h is None:
        return "is read for the first time here"
    return f"ran {run.ran_h:.3g} of {run.clock_h:.3g} hours"


def _line(row: MeterReading) -> MeterLine:
    run = HoursRun(Says(row.says), row.clock_h, row.ran_h, row.silent_h)
    return MeterLine(
        row.unit.number,
        row.unit.model.name,
        row.hours,
        row.says,
        _words(run),
        row.clock_h,
        row.ran_h,
        row.silent_h,
        row.reason,
        row.read_at,
        row.recorded_at,
        row.read_by.get_full_name() or row.read_by.get_username(),
    )
