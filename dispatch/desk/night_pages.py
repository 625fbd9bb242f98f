"""
Tonight's board for the night in which the system is down: whom to phone, where to go, what is promised, what is free.

It holds only what such a night needs of people: numbers of those on call and at work, one number for each open place.
Access codes, care notes and claims stay out.
"""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from dispatch import crew_facts
from dispatch.desk.handover_pages import open_jobs
from dispatch.desk.pages import FreeLine, crew_line, free_lines
from dispatch.models import CallOutOrder, Crew, Person
from equipment.models import UnitNow
from jobs import access, selectors
from jobs.clock_board import running_clocks
from jobs.models import Area, Contact, Job, Visit

EVERY = 10_000
AHEAD = timedelta(hours=16)
NIGHT_TURNS = timedelta(hours=12)


@dataclass(frozen=True)
class OnCallLine:
    """One place of the call-out order: who, their number, and the crew they go with."""

    position: int
    name: str
    phone: str
    crew: str


@dataclass(frozen=True)
class NightCrew:
    """A crew at work or starting soon: its people with their numbers, its hours and its stops."""

    name: str
    people: tuple[tuple[str, str], ...]
    vehicle: str
    where: str
    starts_at: datetime
    until: datetime
    stops: tuple[str, ...]


@dataclass(frozen=True)
class NightJob:
    """An open job: address, whom to phone, what stands there, when somebody comes, what is promised."""

    number: str
    address: str
    stage: str
    category: int | None
    contact: str
    phone: str
    units: int
    next_visit: str
    promised: tuple[str, ...]


@dataclass(frozen=True)
class NightCaller:
    """Somebody who waits for us."""

    where: str
    name: str
    phone: str
    since: datetime
    next_contact_at: datetime | None


@dataclass(frozen=True)
class NightBoard:
    """Everything on the printed board."""

    area: str
    our_number: str
    zone: ZoneInfo
    now: datetime
    ladder: tuple[OnCallLine, ...]
    managers: tuple[tuple[str, str], ...]
    callers: tuple[NightCaller, ...]
    crews: tuple[NightCrew, ...]
    jobs: tuple[NightJob, ...]
    warehouses: tuple[str, ...]
    free: tuple[FreeLine, ...]


def night_board(*, area: Area, now: datetime) -> NightBoard:
    """The board of one area at one moment (a fixed number of queries)."""
    crews = crew_facts.rows_of(crew_facts.crews_around(area_id=area.pk, now=now, ahead=AHEAD), now=now)
    managers = Person.objects.filter(area=area, active=True, user__memberships__role=access.MANAGER)
    names, free = free_lines(area, now)
    return NightBoard(
        area=area.name,
        our_number=area.phone,
        zone=area.zone,
        now=now,
        ladder=_ladder(area, now, [row.crew for row in crews]),
        managers=tuple(managers.distinct().order_by("name").values_list("name", "phone")),
        callers=tuple(
            NightCaller(
                call.where or "place not known yet",
                call.caller_name,
                call.callback_number,
                call.started_at,
                call.next_contact_at,
            )
            for call in selectors.open_calls(area_ids=frozenset({area.pk}))
        ),
        crews=tuple(_crew(row, area.zone, now) for row in crews),
        jobs=_jobs(area, now),
        warehouses=names,
        free=tuple(line for line in free if line.total > 0),
    )


def _ladder(area: Area, now: datetime, crews: list[Crew]) -> tuple[OnCallLine, ...]:
    """The running night's order; from noon on it is the coming night's."""
    night = (now.astimezone(area.zone) - NIGHT_TURNS).date()
    going = {crew.lead_id: f"{crew.name}, {crew.vehicle.name}" for crew in crews}
    rows = CallOutOrder.objects.filter(area=area, night_of=night, person__active=True).select_related("person")
    return tuple(
        OnCallLine(row.position, row.person.name, row.person.phone, going.get(row.person_id, ""))
        for row in rows.order_by("position")
    )


def _crew(row: crew_facts.CrewRow, zone: ZoneInfo, now: datetime) -> NightCrew:
    crew = row.crew
    line = crew_line(row, now)
    people = [person for person in (crew.lead, crew.helper) if person is not None]
    return NightCrew(
        crew.name,
        tuple((person.name, person.phone) for person in people),
        crew.vehicle.name,
        line.where,
        crew.starts_at,
        crew.ends_at,
        tuple(
            f"{stop.at.astimezone(zone):%-I:%M %p} {stop.kind} {stop.job_number}, {stop.place}"
            for stop in line.stops
            if stop.state in ("", "on the way", "under way")
        ),
    )


def _jobs(area: Area, now: datetime) -> tuple[NightJob, ...]:
    rows = list(open_jobs(area).order_by("number"))
    contacts: dict[int, Contact] = {}
    for contact in Contact.objects.filter(job__in=rows).exclude(phone="").order_by("-lets_in", "-can_sign", "pk"):
        contacts.setdefault(contact.job_id, contact)
    units: dict[int | None, int] = defaultdict(int)
    for job_id in UnitNow.objects.filter(holder__job__in=rows).values_list("holder__job_id", flat=True):
        units[job_id] += 1
    coming: dict[int, Visit] = {}
    for visit in Visit.objects.filter(job__in=rows, state__in=_COMING).order_by("due_on", "pk"):
        coming.setdefault(visit.job_id, visit)
    promised: dict[str, list[str]] = defaultdict(list)
    for line in running_clocks(area_id=area.pk, zone=area.zone, now=now, most_ahead=EVERY).lines:
        promised[line.job_number].append(f"{line.kind_words} by {line.due}" + " (late)" * line.late)
    return tuple(
        _job(job, contacts.get(job.pk), units[job.pk], coming.get(job.pk), promised[job.number]) for job in rows
    )


def _job(job: Job, contact: Contact | None, units: int, visit: Visit | None, promised: list[str]) -> NightJob:
    unit = f" {job.unit}" if job.unit else ""
    return NightJob(
        job.number,
        f"{job.street}{unit}, {job.town}, {job.state} {job.zip_code}".strip(),
        job.get_stage_display(),
        job.category,
        "" if contact is None else f"{contact.name} ({contact.role})",
        "" if contact is None else contact.phone,
        units,
        "no next visit" if visit is None else f"{visit.get_kind_display()} {visit.due_on:%a %b} {visit.due_on.day}",
        tuple(promised),
    )


_COMING = (Visit.State.DUE, Visit.State.UNDER_WAY)
