"""The hand-over sheet: everything open, nothing closed, what to do first at the top; written from the rows alone."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Count, OuterRef, QuerySet, Subquery, Sum

from dispatch import crew_facts
from dispatch.desk.handover_decided import Decision, decided_since
from dispatch.desk.handover_first import First, first_of
from dispatch.desk.handover_rest import RestLine, short_of_rest
from dispatch.desk.pages import MOST_ROWS, AskLine, CrewLine, ask_lines, crew_line, free_lines
from dispatch.overrides import Overridden, overrides
from equipment.models import LoadList, SizingReport
from equipment.selectors import AlarmView, DiscrepancyView, open_alarms, open_discrepancies
from equipment.selectors.counted import counted_short
from jobs import selectors
from jobs.clock_board import ClockLine, Clocks, running_clocks
from jobs.clock_times import in_words
from jobs.models import Area, Job, Visit

# A shift and its change: what was decided in it is told, what came before was handed over then.
SHIFT = timedelta(hours=14)
# Clocks that break within so long stand one by one; the rest in one line.
SOON = timedelta(hours=4)
EVERY = 10_000
MOST_ITEMS = 6


@dataclass(frozen=True)
class CallerLine:
    """Somebody who waits for us: their number, where, when they hear next, and from whom."""

    call_id: int
    where: str
    name: str
    phone: str
    waiting_since: datetime
    owner: str
    next_contact_at: datetime | None
    left: str
    late: bool


@dataclass(frozen=True)
class ShortLine:
    """What is short, and where or for which job."""

    what: str
    where: str


@dataclass(frozen=True)
class LoadLineOpen:
    """A load list that is not loaded yet."""

    vehicle: str
    warehouse: str
    departs_at: datetime
    wanted: int
    loaded: int


@dataclass(frozen=True)
class OpenJob:
    """An open job in one line: what stands there, when somebody comes next, and its promises further ahead."""

    number: str
    where: str
    stage: str
    units: int
    next_visit: str
    no_next_visit: bool
    promises: tuple[ClockLine, ...]


@dataclass(frozen=True)
class DueVisit:
    """A visit that is due and on nobody's route."""

    job_number: str
    where: str
    kind: str
    due: str


@dataclass(frozen=True)
class HandoverSheet:
    """
    Everything on the sheet.

    `soon` are clocks that are late or break within four hours; the others stand with their jobs, or in `later`.
    """

    area: str
    zone: ZoneInfo
    now: datetime
    since: datetime
    first: tuple[First, ...]
    callers: tuple[CallerLine, ...]
    soon: Clocks
    later: Clocks
    asks: tuple[AskLine, ...]
    crews: tuple[CrewLine, ...]
    rest: tuple[RestLine, ...]
    due: tuple[DueVisit, ...]
    short: tuple[ShortLine, ...]
    loads: tuple[LoadLineOpen, ...]
    doubt: tuple[DiscrepancyView, ...]
    alarms: tuple[AlarmView, ...]
    overrides: tuple[Overridden, ...]
    decided: tuple[Decision, ...]
    jobs: tuple[OpenJob, ...]


def handover_sheet(*, area: Area, now: datetime) -> HandoverSheet:
    """The sheet of one area at one moment (a fixed number of queries)."""
    since = now - SHIFT
    clocks = running_clocks(area_id=area.pk, zone=area.zone, now=now, most_ahead=EVERY).lines
    soon = tuple(line for line in clocks if line.due_at <= now + SOON)
    ahead = [line for line in clocks if line.due_at > now + SOON]
    rows = crew_facts.rows_of(crew_facts.crews_around(area_id=area.pk, now=now, ahead=timedelta(0)), now=now)
    callers, asks = _callers(area, now), ask_lines(area)
    alarms, doubt = open_alarms(area_id=area.pk), open_discrepancies(area_id=area.pk)
    crews = tuple(crew_line(row, now) for row in rows)
    rest, due, jobs = short_of_rest(area=area, now=now), _due(area, now), _jobs(area, ahead)
    told = {line.promise_id for job in jobs for line in job.promises}
    short, loads = _short(area, now, since), _loads(area)
    return HandoverSheet(
        area=area.name,
        zone=area.zone,
        now=now,
        since=since,
        first=first_of(
            callers=tuple((caller.where, caller.owner, caller.left) for caller in callers if caller.late),
            late=tuple((line.kind_words, line.job_number or line.place, line.left) for line in soon if line.late),
            asked=tuple((ask.person, ask.job_number) for ask in asks),
            alarms=tuple(alarm.text for alarm in alarms),
            due=tuple(visit.job_number for visit in due),
            tired=tuple(line.name for line in rest if line.before_next_work),
            loads=tuple(load.vehicle for load in loads if load.departs_at <= now + SOON),
            unplanned=tuple(job.number for job in jobs if job.no_next_visit),
            doubt=len(doubt),
        ),
        callers=callers,
        soon=Clocks(soon, 0),
        later=Clocks(tuple(line for line in ahead if line.promise_id not in told), 0),
        asks=asks,
        crews=crews,
        rest=rest,
        due=due,
        short=short,
        loads=loads,
        doubt=doubt,
        alarms=alarms,
        overrides=tuple(one for one in overrides(area_id=area.pk, since=since) if _open(one, jobs, callers)),
        decided=decided_since(area=area, since=since),
        jobs=jobs,
    )


def _open(one: Overridden, jobs: Sequence[OpenJob], callers: Sequence[CallerLine]) -> bool:
    """Whether what the manager's word was about is still open."""
    return any(one.job_number == job.number for job in jobs) or any(one.call_id == call.call_id for call in callers)


def open_jobs(area: Area) -> QuerySet[Job]:
    """The area's jobs that are not closed."""
    return Job.objects.filter(area=area).exclude(stage=Job.Stage.CLOSED)


def _callers(area: Area, now: datetime) -> tuple[CallerLine, ...]:
    return tuple(
        CallerLine(
            call.call_id,
            call.where or "place not known yet",
            call.caller_name,
            call.callback_number,
            call.started_at,
            call.owner,
            call.next_contact_at,
            "no next contact time" if call.next_contact_at is None else in_words(due_at=call.next_contact_at, now=now),
            call.next_contact_at is None or call.next_contact_at < now,
        )
        for call in selectors.open_calls(area_ids=frozenset({area.pk}))
    )


def _due(area: Area, now: datetime) -> tuple[DueVisit, ...]:
    today = now.astimezone(area.zone).date()
    loose = Visit.objects.filter(job__area=area, state=Visit.State.DUE, due_on__lte=today, stop__isnull=True)
    return tuple(
        DueVisit(
            visit.job.number,
            f"{visit.job.street}, {visit.job.town}, {visit.job.state}",
            visit.get_kind_display(),
            "today" if visit.due_on == today else f"since {visit.due_on:%a %b} {visit.due_on.day}",
        )
        for visit in loose.exclude(job__stage=Job.Stage.CLOSED).select_related("job").order_by("due_on", "pk")
    )


def _jobs(area: Area, ahead: Sequence[ClockLine]) -> tuple[OpenJob, ...]:
    promises: dict[str, list[ClockLine]] = defaultdict(list)
    for line in ahead:
        promises[line.job_number].append(line)
    coming = Visit.objects.filter(job=OuterRef("pk"), state__in=(Visit.State.DUE, Visit.State.UNDER_WAY))
    rows = (
        open_jobs(area)
        .annotate(
            units=Count("holder__units_now", distinct=True),
            next_on=Subquery(coming.order_by("due_on", "pk").values("due_on")[:1]),
        )
        .annotate(next_kind=Subquery(coming.order_by("due_on", "pk").values("kind")[:1]))
        .order_by("number")
    )
    return tuple(
        OpenJob(
            job.number,
            f"{job.street}, {job.town}, {job.state}",
            job.get_stage_display(),
            job.units,
            "no next visit"
            if job.next_on is None
            else f"{Visit.Kind(job.next_kind).label} {job.next_on:%a %b} {job.next_on.day}",
            job.next_on is None,
            tuple(promises[job.number]),
        )
        for job in rows
    )


def _short(area: Area, now: datetime, since: datetime) -> tuple[ShortLine, ...]:
    _, free = free_lines(area, now)
    lines = [ShortLine(f"no {line.model} free", "at any warehouse tonight") for line in free if line.total <= 0]
    reports = SizingReport.objects.filter(job__in=open_jobs(area), made_at__gte=since).order_by(
        "job_id", "-made_at", "-pk"
    )
    seen: set[int | None] = set()
    for job_id, number, missing in reports.values_list("job_id", "job__number", "report__short"):
        if job_id not in seen:
            seen.add(job_id)
            lines += [ShortLine(_missing(row), number) for row in missing or () if _lacks(row) > 0]
    lacking = counted_short(area_id=area.pk)
    if lacking:
        vehicles, items = {row.place for row in lacking}, sorted({row.item for row in lacking})
        some = ", ".join(items[:MOST_ITEMS]) + (", and more" if len(items) > MOST_ITEMS else "")
        lines.append(ShortLine(some, f"below the minimum aboard {len(vehicles)} vehicles; load them before they leave"))
    return tuple(lines)


def _lacks(row: dict[str, float]) -> float:
    return row["wanted"] - row["found"]


def _missing(row: dict[str, float]) -> str:
    what = str(row["kind"]).replace("_", " ")
    return f"{_lacks(row):g} {what}" if row.get("unit") == "count" else f"{_lacks(row):g} {row.get('unit')} of {what}"


def _loads(area: Area) -> tuple[LoadLineOpen, ...]:
    rows = (
        LoadList.objects.filter(warehouse__area=area, state=LoadList.State.OPEN)
        .select_related("vehicle", "warehouse")
        .annotate(wanted=Sum("lines__wanted"))
        .order_by("departs_at", "pk")[:MOST_ROWS]
    )
    lists = list(rows)
    loaded = dict(
        LoadList.objects.filter(pk__in=[row.pk for row in lists])
        .annotate(loaded=Count("lines__loaded"))
        .values_list("pk", "loaded")
    )
    return tuple(
        LoadLineOpen(row.vehicle.name, row.warehouse.name, row.departs_at, row.wanted or 0, loaded[row.pk])
        for row in lists
    )
