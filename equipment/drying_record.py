"""
The drying record of a job: what was suggested and decided, what was read, which unit stood where from when to when.

Everything in it can be traced to a row with its author and time; corrections show what they replaced.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from equipment.custody.book import fact_of
from equipment.leads_topics import topic_in_words
from equipment.models import Move, Unit
from equipment.on_site.counts import SiteCountLine, counts_of
from equipment.on_site.meters import MeterLine, meters_of
from equipment.on_site.power import PowerShown, power_plans_of
from equipment.sizing_reports import newest_report
from equipment.stock import equipment_days
from equipment.stock.equipment_days import Stay
from jobs.clocks import rule_of
from jobs.drying_log import AirLine, PointLine, drying_log
from jobs.models import Job, LeadsWord, Visit
from jobs.photos.keep import PhotoLine, photos_of
from jobs.refusals import NotThere
from jobs.signing.sign import SignatureLine, signatures_of


@dataclass(frozen=True)
class UnitStay:
    """One unit in one room. `ends_at` is None while it stands there."""

    number: str
    model: str
    kind: str
    room_name: str
    begins_at: datetime
    ends_at: datetime | None


@dataclass(frozen=True)
class DaysLine:
    """Equipment-days of one model in one room, counted in the three ways; `charged` by the payer's own, if known."""

    kind: str
    model: str
    room_name: str
    completed_24h: int
    started_24h: int
    calendar_days: int
    charged: int | None


@dataclass(frozen=True)
class CountRule:
    """How the payer counts days, as its rule stood when the job was opened."""

    day_count: str
    words: str
    by_room: bool
    source: str
    confidence: str


@dataclass(frozen=True)
class RecordedVisit:
    """One visit and what came of it."""

    kind: str
    state: str
    due_on: str
    left_at: datetime | None
    arrived_at: datetime | None
    finished_at: datetime | None
    reason: str
    told: str
    note: str


@dataclass(frozen=True)
class RecordedChange:
    """A decision or a correction, with its reason."""

    at: datetime
    by: str
    what: str
    reason: str


@dataclass(frozen=True)
class DryingRecord:
    """Everything that is on record of a job's drying, as of one moment."""

    job_id: int
    number: str
    address: str
    time_zone: str
    as_of: datetime
    opened_at: datetime
    closed_at: datetime | None
    category: int | None
    payer: str
    claim_number: str
    authorized_at: datetime | None
    authorized_limits: str
    sized_at: datetime | None
    sized_by: str
    sizing: dict[str, Any] | None
    points: tuple[PointLine, ...]
    air: tuple[AirLine, ...]
    stays: tuple[UnitStay, ...]
    rule: CountRule | None
    days: tuple[DaysLine, ...]
    visits: tuple[RecordedVisit, ...]
    changes: tuple[RecordedChange, ...]
    photos: tuple[PhotoLine, ...]
    signatures: tuple[SignatureLine, ...]
    meters: tuple[MeterLine, ...]
    power_plans: tuple[PowerShown, ...]
    counts: tuple[SiteCountLine, ...]

    @property
    def zone(self) -> ZoneInfo:
        """The job's own time zone."""
        return ZoneInfo(self.time_zone)


def drying_record(job_id: int, *, now: datetime) -> DryingRecord:
    """
    The record of one job (15 queries).

    :raises NotThere: if there is no such job.
    """
    job = Job.objects.select_related("payer").filter(pk=job_id).first()
    if job is None:
        raise NotThere(f"There is no job with the id {job_id}. Choose one from the list of jobs.", where="job_id")
    log, kept, rule = drying_log(job_id), newest_report(job_id), _rule(job)
    moves = _moves(job_id)
    until = min(now, job.closed_at or now)
    stays = _stays(moves, job_id, until)
    return DryingRecord(
        job_id=job.pk,
        number=job.number,
        address=f"{job.street}{' ' + job.unit if job.unit else ''}, {job.town}, {job.state} {job.zip_code}".strip(),
        time_zone=job.time_zone,
        as_of=now,
        opened_at=job.opened_at,
        closed_at=job.closed_at,
        category=job.category,
        payer="" if job.payer is None else job.payer.name,
        claim_number=job.claim_number,
        authorized_at=job.authorized_at,
        authorized_limits=job.authorized_limits,
        sized_at=None if kept is None else kept.made_at,
        sized_by="" if kept is None else kept.made_by,
        sizing=None if kept is None else kept.report,
        points=log.points,
        air=log.air,
        stays=tuple(_line(unit, stay, until) for unit, stay in stays),
        rule=rule,
        days=tuple(_days(stays, rule, ZoneInfo(job.time_zone))),
        visits=tuple(_visit(row) for row in Visit.objects.filter(job=job).order_by("due_on", "pk")),
        changes=tuple(_changes(job_id, moves, log.points, log.air)),
        photos=photos_of(job_id),
        signatures=signatures_of(job_id),
        meters=meters_of(job_id),
        power_plans=power_plans_of(job_id),
        counts=counts_of(job_id),
    )


def _rule(job: Job) -> CountRule | None:
    """The payer's rule on the local day on which the job was opened."""
    row = rule_of(job, job.opened_at)
    if row is None:
        return None
    return CountRule(row.day_count, row.get_day_count_display(), row.by_room, row.source, row.confidence)


def _moves(job_id: int) -> dict[Unit, list[Move]]:
    """All entries of every unit that ever stood at the job, by unit."""
    stood = Move.objects.filter(to_holder__job=job_id).values("unit")
    found: dict[Unit, list[Move]] = defaultdict(list)
    rows = Move.objects.filter(unit__in=stood).select_related("unit__model", "to_holder", "actor")
    for move in rows.order_by("unit__number", "happened_at", "pk"):
        found[move.unit].append(move)
    return found


def _stays(moves: dict[Unit, list[Move]], job_id: int, until: datetime) -> list[tuple[Unit, Stay]]:
    found = []
    for unit, rows in moves.items():
        holder = next(row.to_holder.pk for row in rows if row.to_holder.job_id == job_id)
        facts = [fact_of(row) for row in rows]
        found += [(unit, stay) for stay in equipment_days.stays(facts, holder=holder, until=until)]
    return found


def _line(unit: Unit, stay: Stay, until: datetime) -> UnitStay:
    ends = None if stay.ends_at == until else stay.ends_at
    return UnitStay(unit.number, unit.model.name, unit.model.kind, stay.room_name, stay.begins_at, ends)


def _days(stays: list[tuple[Unit, Stay]], rule: CountRule | None, zone: ZoneInfo) -> Iterable[DaysLine]:
    """By model, and by room where the payer asks for rooms."""
    of_unit: dict[Unit, list[Stay]] = defaultdict(list)
    for unit, stay in stays:
        of_unit[unit].append(stay)
    counts: dict[tuple[str, str, str], Counter[str]] = defaultdict(Counter)
    for unit, there in of_unit.items():
        for way, by_room in (
            ("completed_24h", equipment_days.completed_24h(there)),
            ("started_24h", equipment_days.started_24h(there)),
            ("calendar_days", equipment_days.calendar_days(there, zone)),
        ):
            for room, number in by_room.items():
                place = room if rule is not None and rule.by_room else ""
                counts[unit.model.kind, unit.model.name, place][way] += number
    for (kind, model, room), ways in sorted(counts.items()):
        charged = None if rule is None else ways[rule.day_count]
        yield DaysLine(kind, model, room, ways["completed_24h"], ways["started_24h"], ways["calendar_days"], charged)


def _visit(row: Visit) -> RecordedVisit:
    return RecordedVisit(
        row.get_kind_display(),
        row.get_state_display(),
        f"{row.due_on:%b} {row.due_on.day}, {row.due_on.year}",
        row.left_at,
        row.arrived_at,
        row.finished_at,
        row.reason,
        row.told,
        row.note,
    )


def _changes(
    job_id: int, moves: dict[Unit, list[Move]], points: tuple[PointLine, ...], air: tuple[AirLine, ...]
) -> list[RecordedChange]:
    """The lead's words, corrected moves and corrected readings, in order of time."""
    found = [
        RecordedChange(
            word.said_at,
            word.said_by.get_full_name() or word.said_by.get_username(),
            f"{topic_in_words(word.topic)}: {word.word}, suggested {_said(word.suggestion)}",
            word.reason,
        )
        for word in LeadsWord.objects.filter(job=job_id).select_related("said_by")
    ]
    for unit, rows in moves.items():
        found += [
            RecordedChange(
                row.recorded_at,
                row.actor.get_full_name() or row.actor.get_username(),
                f"Entry of unit {unit.number} corrected: {row.to_holder}",
                row.note,
            )
            for row in rows
            if row.corrects_id is not None
        ]
    for point in points:
        found += [
            RecordedChange(
                value.taken_at,
                "",
                f"Point {point.number}: {value.before_correction:g} is {value.value:g}",
                value.reason,
            )
            for value in point.values
            if value.before_correction is not None
        ]
    found += [
        RecordedChange(
            line.taken_at, "", f"Air, {line.where_words}: {line.corrects:g} % RH is {line.rh_pct:g} %", line.reason
        )
        for line in air
        if line.corrects is not None
    ]
    return sorted(found, key=lambda change: change.at)


def _said(suggestion: Any) -> str:
    return "nothing" if suggestion is None else str(suggestion)
