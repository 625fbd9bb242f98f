"""The whole loss on one page: people, rooms, sizing, equipment on site, readings, visits, history."""

from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from dispatch.desk.job_loss import SameLossJobs, same_loss_jobs
from dispatch.overrides import Overridden, of_job
from equipment.leads_topics import Topic, topic_in_words, topics_of
from equipment.models import UnitNow
from equipment.sizing.report_reading import report_of
from equipment.sizing_reports import newest_report
from equipment.sizing_view import SizingView, sizing_view
from jobs.charts import Chart, log_charts
from jobs.clock_board import ClockLine, PastClock, clocks_of_job, past_clocks
from jobs.drying_log import AirLine, DryingLog, drying_log
from jobs.expected_dry import ExpectedDry, expected_dry
from jobs.models import Contact, Job, JournalEntry, LeadsWord, Room, Visit, WaysToReach
from jobs.photos.keep import PhotoLine, photos_of
from jobs.signing.sign import SignatureLine, signatures_of

MOST_ROWS = 200
NEWEST_AIR = 20
LOSS_WORDS = {
    "job_joined": "joined to {}",
    "job_taken_in": "{} was joined to this job",
    "jobs_split": "split from {}",
}
SCALES = {"percent_mc": "% moisture", "relative_0_100": "relative, 0 to 100"}


@dataclass(frozen=True)
class PointLine:
    """A material point with its newest value."""

    number: int
    room: str
    material: str
    meter: str
    goal: float
    value: float | None
    at: datetime | None

    @property
    def at_goal(self) -> bool:
        return self.value is not None and self.value <= self.goal


@dataclass(frozen=True)
class WordLine:
    """What the lead said beside what was suggested then."""

    what: str
    suggested: str
    word: str
    reason: str
    by: str
    at: datetime


@dataclass(frozen=True)
class ContactLine:
    """Somebody of the job, and how messages go to them ("": as usual here)."""

    contact_id: int
    role: str
    name: str
    phone: str
    email: str
    reach_by: str
    way: str
    can_sign: bool
    lets_in: bool


@dataclass(frozen=True)
class JobPage:
    """Everything on `/desk/jobs/NUMBER`."""

    job_id: int
    number: str
    stage: str
    open: bool
    address: str
    county: str
    zone: ZoneInfo
    facts: tuple[tuple[str, str], ...]
    contacts: tuple[ContactLine, ...]
    ways: tuple[tuple[str, str], ...]
    rooms: tuple[tuple[str, str], ...]
    sizing: SizingView | None
    sized_at: datetime | None
    sized_by: str
    topics: tuple[Topic, ...]
    words: tuple[WordLine, ...]
    units: tuple[tuple[str, str, str, datetime], ...]
    air: tuple[AirLine, ...]
    points: tuple[PointLine, ...]
    dry: ExpectedDry | None
    charts: tuple[Chart, ...]
    photos: tuple[PhotoLine, ...]
    signatures: tuple[SignatureLine, ...]
    visits: tuple[tuple[str, datetime | None, str, str, str], ...]
    clocks: tuple[ClockLine, ...]
    past_clocks: tuple[PastClock, ...]
    overrides: tuple[Overridden, ...]
    history: tuple[tuple[datetime, str, str], ...]
    due: tuple[tuple[int, str], ...]
    loss: SameLossJobs


def job_page(*, area_id: int, number: str, now: datetime) -> JobPage | None:
    """The page of one job, or None if the area has no such job; nineteen queries."""
    job = Job.objects.select_related("payer", "joined_to").filter(area_id=area_id, number=number).first()
    if job is None:
        return None
    kept = newest_report(job.pk)
    report = None if kept is None else report_of(kept.report)
    log, zone = drying_log(job.pk), ZoneInfo(job.time_zone)
    visits = list(Visit.objects.filter(job=job).order_by("due_on", "pk")[:MOST_ROWS])
    return JobPage(
        job_id=job.pk,
        number=job.number,
        stage=f"joined to {job.joined_to.number}" if job.joined_to else job.get_stage_display(),
        open=job.stage != Job.Stage.CLOSED,
        address=f"{job.street}{' ' + job.unit if job.unit else ''}, {job.town}, {job.state} {job.zip_code}".strip(),
        county=job.county,
        zone=zone,
        facts=tuple(_facts(job, zone)),
        contacts=tuple(
            ContactLine(
                row.pk,
                row.role,
                row.name,
                row.phone,
                row.email,
                row.reach_by,
                row.get_reach_by_display() if row.reach_by else "",
                row.can_sign,
                row.lets_in,
            )
            for row in Contact.objects.filter(job=job).order_by("pk")
        ),
        ways=tuple(WaysToReach.choices),
        rooms=tuple((room.name, _measures(room)) for room in Room.objects.filter(chamber__job=job)),
        sizing=None if report is None else sizing_view(report),
        sized_at=None if kept is None else kept.made_at,
        sized_by="" if kept is None else kept.made_by,
        topics=() if report is None else topics_of(report, category=job.category),
        words=tuple(
            WordLine(
                topic_in_words(word.topic),
                "nothing" if word.suggestion is None else str(word.suggestion),
                str(word.word),
                word.reason,
                word.said_by.get_full_name() or word.said_by.get_username(),
                word.said_at,
            )
            for word in LeadsWord.objects.filter(job=job).select_related("said_by")[:MOST_ROWS]
        ),
        units=tuple(
            UnitNow.objects.filter(holder__job=job)
            .order_by("room_name", "unit__number")
            .values_list("unit__number", "unit__model__name", "room_name", "since")[:MOST_ROWS]
        ),
        air=log.air[: -NEWEST_AIR - 1 : -1],
        points=_points(log),
        dry=expected_dry(log, now=now) if log.above_goal and log.read_at else None,
        charts=log_charts(log.points, log.air, zone),
        photos=photos_of(job.pk),
        signatures=signatures_of(job.pk),
        visits=tuple(map(_visit, visits)),
        loss=same_loss_jobs(job),
        due=tuple(
            (visit.pk, f"{visit.get_kind_display()} of {visit.due_on:%b} {visit.due_on.day}")
            for visit in visits
            if visit.state in (Visit.State.DUE, Visit.State.UNDER_WAY)
        ),
        clocks=clocks_of_job(job.pk, zone=zone, now=now),
        past_clocks=past_clocks(job.pk),
        overrides=of_job(job.pk),
        history=tuple(
            (row.happened_at, _what(row), row.actor.get_full_name() or row.actor.get_username())
            for row in JournalEntry.objects.filter(job=job)
            .select_related("actor")
            .order_by("-happened_at", "-pk")[:MOST_ROWS]
        ),
    )


def _what(row: JournalEntry) -> str:
    words = LOSS_WORDS.get(row.kind)
    return row.kind.replace("_", " ") if words is None else words.format(row.data.get("number", "another job"))


def _facts(job: Job, zone: ZoneInfo) -> list[tuple[str, str]]:
    rows = [
        ("Water from", job.water_source.replace("_", " ")),
        ("Water", job.get_running_display()),
        ("Category", str(job.category or "not set")),
        ("Power", job.get_power_display()),
        ("Building", " ".join(str(part) for part in (job.building, job.year_built and f"of {job.year_built}") if part)),
        ("Hazards", ", ".join(str(hazard).replace("_", " ") for hazard in job.hazards)),
        ("Language", job.language),
        ("Payer", "" if job.payer is None else job.payer.name),
        ("Claim", job.claim_number),
        ("Referred by", job.referred_by),
        ("Authorized", _when(job.authorized_at, zone) or "not yet"),
        ("Limits of what was authorized", job.authorized_limits),
    ]
    return [(name, value) for name, value in rows if value]


def _when(at: datetime | None, zone: ZoneInfo) -> str:
    return "" if at is None else f"{at.astimezone(zone):%a %b %-d, %-I:%M %p}"


def _measures(room: Room) -> str:
    measures = room.measures
    size = (
        f"{measures['length_ft']:g} x {measures['width_ft']:g} ft"
        if measures.get("length_ft") and measures.get("width_ft")
        else f"{measures['floor_sqft']:g} sq ft"
        if measures.get("floor_sqft")
        else "size not known"
    )
    wet = [
        f"{measures[key]:g} sq ft of {name}"
        for key, name in (
            ("wet_floor_sqft", "floor"),
            ("wet_lower_wall_sqft", "lower wall"),
            ("wet_upper_wall_sqft", "upper wall"),
            ("wet_ceiling_sqft", "ceiling"),
            ("wet_wood_floor_sqft", "wood floor"),
        )
        if measures.get(key)
    ]
    return f"{size}; wet: {', '.join(wet) or 'nothing measured'}"


def _points(log: DryingLog) -> tuple[PointLine, ...]:
    return tuple(
        PointLine(
            point.number,
            point.room_name,
            point.material.replace("_", " "),
            f"{point.meter}, {SCALES.get(point.scale, point.scale)}",
            point.goal,
            None if point.last is None else point.last.value,
            None if point.last is None else point.last.taken_at,
        )
        for point in log.points
    )


def _visit(visit: Visit) -> tuple[str, datetime | None, str, str, str]:
    at = visit.arrived_at or visit.promised_start or visit.window_from or visit.due_at
    return (
        visit.kind_words,
        at,
        f"{visit.due_on:%b} {visit.due_on.day}",
        visit.get_state_display(),
        "; ".join(part for part in (visit.reason or visit.note, visit.told and f"told: {visit.told}") if part),
    )
