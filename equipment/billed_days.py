"""
Equipment-days on the bill beside those in the log: the office enters what it billed, and both stand side by side.

Logged days are counted from the moves by the payer's own way (its rule on the day on which the job was opened), else
by started 24 hours; until the job was closed, or until now.
"""

from collections import Counter, defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from django.contrib.auth.models import User

from equipment.custody.book import fact_of
from equipment.models import BilledDays, EquipmentModel, Holder, Move
from equipment.sheets import cells
from equipment.sheets.checking import Column, Problem, Table, read_rows, refuse_bad, repeated, unknown
from equipment.sheets.reading import sheet_of
from equipment.stock import equipment_days
from equipment.stock.equipment_days import Stay
from jobs import journal
from jobs.clocks import rule_of
from jobs.models import Area, Job
from jobs.refusals import NotThere, Unusable
from jobs.use_case import use_case

STARTED = "started_24h"
MOST_DAYS = 9_999
BILLED = Table(
    "billed_days",
    ("job", "model"),
    (
        Column("job", cells.text(20)),
        Column("model", cells.code(40)),
        Column("days", cells.whole(0, MOST_DAYS)),
    ),
)


@dataclass(frozen=True)
class BilledLine:
    """Equipment-days of one model at one job. `billed` is None while nothing of the job was entered."""

    model: str
    name: str
    logged: int
    billed: int | None


@dataclass(frozen=True)
class JobBill:
    """One job's bill beside its log. `difference` adds up every line's, so that too much never makes up for too few."""

    job_id: int
    number: str
    closed_at: datetime | None
    counted: str
    lines: tuple[BilledLine, ...]
    entered_at: datetime | None
    entered_by: str

    @property
    def logged(self) -> int:
        """Equipment-days in the log."""
        return sum(line.logged for line in self.lines)

    @property
    def difference(self) -> int:
        """Equipment-days that stand in one of the two only; all that are logged while nothing is billed."""
        return sum(abs(line.logged - (line.billed or 0)) for line in self.lines)


@dataclass(frozen=True)
class BilledEntered:
    """What was entered: for how many jobs, and the equipment-days by which their bills differ from their logs."""

    jobs: tuple[str, ...]
    difference: int


@use_case("enter_billed_days")
def enter_billed_days(
    *, key: UUID, actor: User, now: datetime, job_id: int, days: tuple[tuple[str, int], ...]
) -> BilledEntered:
    """
    Enter what was billed of a job: `days` = ((model code, equipment-days), ...); it replaces what was entered before.

    :raises NotThere: if there is no such job.
    :raises Unusable: if a model is not known or stands twice, or a number cannot be meant.
    """
    job = Job.objects.filter(pk=job_id).first()
    if job is None:
        raise NotThere(f"There is no job with the id {job_id}. Choose one from the list of jobs.", where="job_id")
    return _enter({job: dict(_checked(days))}, key=key, actor=actor, now=now)


@use_case("import_billed_days")
def import_billed_days(*, key: UUID, actor: User, now: datetime, area_id: int, text: str) -> BilledEntered:
    """
    Enter what was billed of many jobs: a CSV with the columns job (its number), model (its code) and days.

    :raises BadRows: if any row is bad; `problems` holds them all, and nothing was written.
    :raises SheetUnusable: if it is no CSV.
    """
    area = Area.objects.filter(pk=area_id).first()
    if area is None:
        raise NotThere("There is no such service area.", where="area_id")
    rows, found = read_rows(sheet_of(text, BILLED.name), BILLED, today=date.min)
    jobs = {job.number: job for job in Job.objects.filter(area=area, number__in={row.values["job"] for row in rows})}
    models = frozenset(EquipmentModel.objects.values_list("code", flat=True))
    problems = [*found, *repeated(rows, BILLED)]
    for row in rows:
        if row.values["job"] not in jobs:
            why = f"{row.values['job']} is no job of {area.name}"
            problems.append(Problem("billed_days.csv", row.line, "job", why))
        if row.values["model"] not in models:
            why = unknown(row.values["model"], models, "the list of models")
            problems.append(Problem("billed_days.csv", row.line, "model", why))
    if not rows and not problems:
        problems.append(Problem("billed_days.csv", 1, "", "holds no row; write one for each job and model"))
    refuse_bad(problems)
    billed: dict[Job, dict[str, int]] = defaultdict(dict)
    for row in rows:
        billed[jobs[row.values["job"]]][row.values["model"]] = row.values["days"]
    return _enter(billed, key=key, actor=actor, now=now)


def bills(jobs: Sequence[Job], *, now: datetime) -> tuple[JobBill, ...]:
    """Each job's bill beside its log, in their order (4 queries, and one for each job with a payer)."""
    logged = logged_days(jobs, now=now)
    entered = _entered([job.pk for job in jobs])
    names = dict(EquipmentModel.objects.values_list("code", "name"))
    found = []
    for job in jobs:
        counted, days = logged[job.pk]
        rows = entered.get(job.pk, [])
        billed = {row.model.code: row.days for row in rows}
        lines = tuple(
            BilledLine(code, names[code], days.get(code, 0), billed.get(code, 0) if rows else None)
            for code in sorted({*days, *billed})
        )
        by = (rows[0].entered_by.get_full_name() or rows[0].entered_by.get_username()) if rows else ""
        at = rows[0].entered_at if rows else None
        found.append(JobBill(job.pk, job.number, job.closed_at, counted, lines, at, by))
    return tuple(found)


def logged_days(jobs: Sequence[Job], *, now: datetime) -> dict[int, tuple[str, Mapping[str, int]]]:
    """By job: how its payer counts, and its equipment-days by model code."""
    stood: dict[int, dict[int, list[Move]]] = defaultdict(lambda: defaultdict(list))
    holders = dict(Holder.objects.filter(job__in=jobs).values_list("job_id", "pk"))
    there = Move.objects.filter(to_holder__in=holders.values()).values_list("to_holder_id", "unit_id").distinct()
    units: dict[int, set[int]] = defaultdict(set)
    for holder, unit in there:
        units[unit].add(holder)
    for move in (
        Move.objects.filter(unit__in=units).select_related("unit__model", "to_holder").order_by("happened_at", "pk")
    ):
        for holder in units[move.unit_id]:
            stood[holder][move.unit_id].append(move)
    return {job.pk: _logged(job, stood.get(holders.get(job.pk, 0), {}), holders.get(job.pk), now) for job in jobs}


def _logged(
    job: Job, moves: Mapping[int, list[Move]], holder: int | None, now: datetime
) -> tuple[str, Mapping[str, int]]:
    rule = rule_of(job, job.opened_at)
    way = rule.day_count if rule else STARTED
    days: Counter[str] = Counter()
    for rows in moves.values():
        facts = [fact_of(row) for row in rows]
        stays = equipment_days.stays(facts, holder=holder or 0, until=min(now, job.closed_at or now))
        days[rows[0].unit.model.code] += sum(_counted(way, stays, ZoneInfo(job.time_zone)).values())
    return way, {code: number for code, number in days.items() if number}


def _counted(way: str, stays: tuple[Stay, ...], zone: ZoneInfo) -> Counter[str]:
    if way == "calendar_days":
        return equipment_days.calendar_days(stays, zone)
    return equipment_days.completed_24h(stays) if way == "completed_24h" else equipment_days.started_24h(stays)


def _entered(job_ids: Collection[int]) -> dict[int, list[BilledDays]]:
    """The rows of the newest entry of each job."""
    rows: dict[int, list[BilledDays]] = defaultdict(list)
    for row in BilledDays.objects.filter(job__in=job_ids).select_related("model", "entered_by").order_by("-pk"):
        if not rows[row.job_id] or rows[row.job_id][0].entry == row.entry:
            rows[row.job_id].append(row)
    return rows


def _checked(days: tuple[tuple[str, int], ...]) -> Mapping[str, int]:
    known = set(EquipmentModel.objects.values_list("code", flat=True))
    for position, (code, number) in enumerate(days):
        if code not in known:
            raise Unusable(f"There is no equipment model {code}. Choose one from the list.", where=f"days[{position}]")
        if not 0 <= number <= MOST_DAYS:
            raise Unusable(f"{number} is no number of days on a bill: 0 to {MOST_DAYS}.", where=f"days[{position}]")
    if not days or len(dict(days)) < len(days):
        raise Unusable("Name each model once, and at least one; 0 days where none was billed.", where="days")
    return dict(days)


def _enter(billed: Mapping[Job, Mapping[str, int]], *, key: UUID, actor: User, now: datetime) -> BilledEntered:
    models = {model.code: model for model in EquipmentModel.objects.all()}
    for job, days in billed.items():
        BilledDays.objects.bulk_create(
            BilledDays(job=job, model=models[code], days=number, entry=key, entered_at=now, entered_by=actor)
            for code, number in days.items()
        )
        journal.note(kind="billed_days_entered", actor=actor, now=now, job=job, data={"days": dict(days)})
    found = bills(sorted(billed, key=lambda job: job.pk), now=now)
    return BilledEntered(tuple(bill.number for bill in found), sum(bill.difference for bill in found))
