"""How well the equipment is used, and what it says about the first visit."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from datetime import datetime, timedelta

from django.db.models import Min

from dispatch.measures.calls import FIRST
from dispatch.measures.cases import DAY, HOUR, Case, Label, Span, labels
from equipment import selectors as equipment
from equipment.billed_days import bills
from equipment.models import Condition, Holder, LoadLine, LoadList, Move, SizingReport, UnitNow
from equipment.selectors import Segment
from jobs.models import Chamber, Job, Visit

# What is no longer ours to use.
NOT_OURS = (Holder.Kind.GONE, Holder.Kind.SUPPLIER)
SECOND_LOAD_WITHIN = timedelta(hours=24)


def _segments(span: Span) -> list[Segment]:
    if "segments" not in span.read:
        span.read["segments"] = equipment.segments(
            area_id=span.area_id, starts_at=span.starts_at, ends_at=span.seen_until
        )
    found: list[Segment] = span.read["segments"]
    return found


def _dry_at(rooms: dict[str, datetime | None]) -> datetime | None:
    """When the last room came to its goal; None while one is above, or without a point."""
    known = [at for at in rooms.values() if at is not None]
    return max(known) if known and len(known) == len(rooms) else None


def days_to_dry(span: Span) -> list[Case]:
    """Days from the first placement to the last reading at goal, by class, of jobs first equipped then (6 queries)."""
    rows = (
        Move.objects.filter(corrected_by=None, to_holder__kind=Holder.Kind.JOB, to_holder__area=span.area_id)
        .values("to_holder__job_id")
        .annotate(placed_at=Min("happened_at"))
        .filter(placed_at__gte=span.starts_at, placed_at__lt=span.ends_at)
    )
    mine: dict[int, datetime] = {row["to_holder__job_id"]: row["placed_at"] for row in rows}
    dry = equipment.dry_since(mine)
    by_job, classes = labels(mine), _classes(mine)
    over = set(
        Job.objects.filter(pk__in=mine, stage__in=[Job.Stage.PICKED_UP, Job.Stage.CLOSED]).values_list("pk", flat=True)
    )
    cases = []
    for job_id, at in sorted(mine.items(), key=lambda item: (item[1], item[0])):
        dry_at = _dry_at(dry[job_id])
        if dry_at is None and job_id in over:
            words = "picked up without every point at its goal"
        else:
            words = "dry" if dry_at else "not dry yet"
        days = ((dry_at or span.now) - at).total_seconds() / DAY
        case = Case(at, days, what=words, open=dry_at is None, group=classes.get(job_id, "class not set"))
        cases.append(by_job[job_id].on(case))
    return cases


def _classes(job_ids: Collection[int]) -> dict[int, str]:
    found: dict[int, str] = {}
    rows = Chamber.objects.filter(job__in=job_ids, class_set__isnull=False).order_by("class_set")
    for job_id, number in rows.values_list("job_id", "class_set"):
        found[job_id] = f"class {number}"
    return found


def idle_at_jobs(span: Span) -> list[Case]:
    """Unit-days in the span that machines stood at a job after their room, or the job, was at its goal (4 queries)."""
    at_jobs = [row for row in _segments(span) if row.job_id is not None]
    dry = equipment.dry_since({row.job_id for row in at_jobs if row.job_id})
    days: dict[int, float] = defaultdict(float)
    units: dict[int, set[str]] = defaultdict(set)
    for row in at_jobs:
        assert row.job_id is not None
        rooms = dry[row.job_id]
        goal = rooms[row.room_name] if row.room_name in rooms else _dry_at(rooms)
        if goal is not None and goal < row.ends_at:
            days[row.job_id] += (row.ends_at - max(goal, row.begins_at)).total_seconds() / DAY
            units[row.job_id].add(row.number)
    by_job = labels(days)
    return [
        by_job[job_id].on(Case(span.starts_at, idle, what=f"{len(units[job_id])} units stood on"))
        for job_id, idle in sorted(days.items(), key=lambda item: (-item[1], item[0]))
    ]


def utilization(span: Span) -> list[Case]:
    """Of the days that our own machines were ours, the days at jobs, each weighted by what it costs (1 query)."""
    return _utilization(span, weighted=True)


def utilization_by_count(span: Span) -> list[Case]:
    """The same without weights: unit-days at jobs of unit-days owned (1 query)."""
    return _utilization(span, weighted=False)


def _utilization(span: Span, *, weighted: bool) -> list[Case]:
    there: dict[str, float] = defaultdict(float)
    owned: dict[str, float] = defaultdict(float)
    units: dict[str, set[int]] = defaultdict(set)
    for row in _segments(span):
        if row.rented or row.holder_kind in NOT_OURS or (weighted and row.replacement_cost is None):
            continue
        days = row.seconds / DAY * ((row.replacement_cost or 0.0) if weighted else 1.0)
        owned[row.kind] += days
        units[row.kind].add(row.unit_id)
        if row.job_id is not None:
            there[row.kind] += days
    word = "dollar-days" if weighted else "unit-days"
    return [
        Case(
            span.starts_at,
            there[kind],
            owned[kind],
            what=f"{len(units[kind])} units, {there[kind]:,.0f} of {owned[kind]:,.0f} {word}",
            group=kind.replace("_", " "),
        )
        for kind in sorted(owned)
    ]


def ready_share(span: Span) -> list[Case]:
    """Of our machines that are not at jobs now, those that are ready, by warehouse (1 query)."""
    ready: dict[tuple[str, str], list[int]] = defaultdict(lambda: [0, 0])
    rows = UnitNow.objects.filter(
        holder__area=span.area_id,
        holder__kind__in=[Holder.Kind.WAREHOUSE, Holder.Kind.VEHICLE, Holder.Kind.REPAIR],
        unit__model__loan=None,
    )
    for kind, condition, warehouse, home in rows.values_list(
        "unit__model__kind", "condition", "holder__warehouse__name", "holder__vehicle__home__name"
    ):
        counts = ready[kind, warehouse or home or ""]
        counts[0] += condition == Condition.READY
        counts[1] += 1
    return [
        Case(
            span.now,
            good,
            total,
            what=f"{good} ready of {total}",
            group=kind.replace("_", " "),
            warehouse=warehouse,
        )
        for (kind, warehouse), (good, total) in sorted(ready.items())
    ]


def not_found(span: Span) -> list[Case]:
    """Units that nobody can find now, with when and by whom each was last seen (1 query)."""
    lost = UnitNow.objects.filter(holder__area=span.area_id, holder__kind=Holder.Kind.NOT_FOUND)
    rows = lost.filter(unit__model__loan=None).order_by("since")
    return [
        Case(
            since,
            1.0,
            what=f"unit {number}, missing for {(span.now - since).days} days, "
            f"last seen {seen_at.astimezone(span.zone):%b} {seen_at.astimezone(span.zone).day} by {first} {last}"
            + ("" if cost is None else f", ${cost:,.0f}"),
            open=True,
            group=kind.replace("_", " "),
        )
        for number, kind, cost, since, seen_at, first, last in rows.values_list(
            "unit__number",
            "unit__model__kind",
            "unit__model__replacement_cost",
            "since",
            "seen_at",
            "seen_by__first_name",
            "seen_by__last_name",
        )
    ]


def _first_visits(span: Span) -> list[tuple[int, datetime]]:
    """The first arrival at each job, if it lies in the span."""
    rows = (
        Visit.objects.filter(job__area=span.area_id, kind__in=FIRST)
        .values("job_id")
        .annotate(came_at=Min("arrived_at"))
        .filter(came_at__gte=span.starts_at, came_at__lt=span.ends_at)
    )
    return sorted(((row["job_id"], row["came_at"]) for row in rows), key=lambda item: (item[1], item[0]))


def first_visit_adequacy(span: Span) -> list[Case]:
    """Of the first visits, those without a second load that was asked for within a day of arriving (4 queries)."""
    visits = _first_visits(span)
    loads: dict[int, list[datetime]] = defaultdict(list)
    rows = LoadLine.objects.filter(job__in=[job for job, _ in visits]).exclude(load_list__state=LoadList.State.CANCELED)
    for job_id, made_at in rows.values_list("job_id", "load_list__made_at").distinct():
        loads[job_id].append(made_at)
    by_job = labels([job for job, _ in visits])
    cases = []
    for job_id, at in visits:
        # A load that was written before they arrived was planned in stages.
        again = [made for made in loads[job_id] if at < made <= at + SECOND_LOAD_WITHIN]
        still = span.now < at + SECOND_LOAD_WITHIN
        words = "a second load was needed" if again else "enough so far" if still else "enough"
        cases.append(by_job[job_id].on(Case(at, float(not again), what=words, open=still and not again)))
    return cases


def estimate_error(span: Span) -> list[Case]:
    """Units estimated on the phone against units placed within a day of arriving: how far apart (4 queries)."""
    visits = _first_visits(span)
    jobs = [job for job, _ in visits]
    estimated: dict[int, int] = {}
    reports = SizingReport.objects.filter(call__isnull=False, job__in=jobs) | SizingReport.objects.filter(
        call__job__in=jobs
    )
    for job_id, call_job, report in reports.order_by("made_at", "pk").values_list("job_id", "call__job_id", "report"):
        estimated[job_id or call_job] = sum(row["count"] for row in report.get("mix") or ())
    placed: dict[int, dict[int, datetime]] = defaultdict(dict)
    moves = Move.objects.filter(corrected_by=None, to_holder__job__in=jobs).order_by("-happened_at")
    for job_id, unit_id, at in moves.values_list("to_holder__job_id", "unit_id", "happened_at"):
        placed[job_id][unit_id] = at
    by_job = labels(jobs)
    cases = []
    for job_id, at in visits:
        if job_id not in estimated:
            continue
        count = sum(came <= at + SECOND_LOAD_WITHIN for came in placed[job_id].values())
        if count == 0:
            continue
        off = abs(estimated[job_id] - count)
        group = "too few" if estimated[job_id] < count else "too many" if estimated[job_id] > count else "right"
        words = f"{estimated[job_id]} estimated, {count} placed"
        cases.append(by_job[job_id].on(Case(at, off, count, what=words, group=group)))
    return cases


def silent_hours(span: Span) -> list[Case]:
    """Hours that machines with an hour meter stood at a job and did not run: clock against meter (3 queries)."""
    return list(_silent(span))


def _silent(span: Span) -> Iterable[Case]:
    rows = [row for row in _segments(span) if row.job_id is not None and row.whole]
    by_job = labels({row.job_id for row in rows if row.job_id})
    for row in rows:
        if row.meter_in is None or row.meter_out is None or row.job_id is None:
            continue
        ran, stood = row.meter_out - row.meter_in, row.seconds / HOUR
        words = f"unit {row.number} ran {ran:.0f} of {stood:.0f} h"
        silent = min(max(stood - ran, 0.0), stood)
        label = by_job.get(row.job_id, Label())
        yield label.on(Case(row.begins_at, silent, stood, what=words, group=row.kind.replace("_", " ")))


def billed_days(span: Span) -> list[Case]:
    """Equipment-days that stand on the bill or in the log only, for each job closed in the span."""
    closed = Job.objects.filter(area=span.area_id, closed_at__gte=span.starts_at, closed_at__lt=span.ends_at)
    jobs = list(closed.order_by("closed_at", "pk"))
    by_job, cases = labels([job.pk for job in jobs]), []
    for job, bill in zip(jobs, bills(jobs, now=span.now), strict=True):
        differing = [line for line in bill.lines if line.logged != (line.billed or 0)]
        said = ", ".join(f"{line.model} billed {line.billed or 0}, logged {line.logged}" for line in differing)
        how = "as logged" if not differing else "nothing entered" if bill.entered_at is None else "differs"
        at = job.closed_at or span.now
        cases.append(by_job[job.pk].on(Case(at, float(bill.difference), float(bill.logged), said or how, group=how)))
    return cases
