"""Who might be tired, and what came of releasing somebody: read in a fixed number of queries."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from dispatch.models import Crew, Person, Stop, WorkSpell
from dispatch.rules import figure
from jobs.models import Area, Contact, UseCaseCall, Visit

AHEAD = timedelta(hours=16)
MOST_PEOPLE = 80


@dataclass(frozen=True)
class TiredLine:
    """One lead: how long on duty, their crews in the next hours, and the stops that would go to others."""

    person_id: int
    name: str
    on_duty_hours: float | None
    crews: str
    starts_at: datetime
    stops: tuple[str, ...]


@dataclass(frozen=True)
class ReleaseChoice:
    """Everything on `/desk/release`: who leads tonight and in the morning, longest on duty first."""

    now: datetime
    until: datetime
    rest_hours: int
    zone: ZoneInfo
    leads: tuple[TiredLine, ...]


@dataclass(frozen=True)
class ToldLine:
    """One customer after a release: the old and the new time, and whether they were told or must be called."""

    job_number: str
    place: str
    crew: str
    was: datetime
    starts_at: datetime | None
    zone: ZoneInfo
    told: str
    call: str
    why: str


@dataclass(frozen=True)
class ReleaseDone:
    """What came of a release: who must be called stands first."""

    person: str
    until: datetime
    zone: ZoneInfo
    to_call: tuple[ToldLine, ...]
    told: tuple[ToldLine, ...]
    kept: tuple[ToldLine, ...]


def release_choice(*, area: Area, now: datetime) -> ReleaseChoice:
    """Leads of crews at work now or soon; three queries."""
    crews = Crew.objects.filter(area=area, starts_at__lt=now + AHEAD, at_latest__gt=now).select_related("lead")
    by_lead: dict[int, list[Crew]] = defaultdict(list)
    for crew in crews.order_by("starts_at"):
        by_lead[crew.lead_id].append(crew)
    since = dict(
        WorkSpell.objects.filter(person_id__in=by_lead, ends_at__isnull=True)
        .order_by("-starts_at")
        .values_list("person_id", "starts_at")
    )
    until = now + timedelta(hours=figure("rest_hours"))
    stops: dict[int, list[str]] = defaultdict(list)
    open_states = (Visit.State.DUE, Visit.State.UNDER_WAY)
    ahead = Stop.objects.filter(crew__lead__in=by_lead, crew__in=crews, visit__state__in=open_states)
    for stop in ahead.filter(visit__arrived_at__isnull=True, start_at__lt=until).select_related("visit__job", "crew"):
        visit, at = stop.visit, stop.start_at.astimezone(area.zone)
        said = f"{at:%-I:%M %p} {visit.get_kind_display()} at {visit.job.number}, {visit.job.town}"
        stops[stop.crew.lead_id].append(said)
    lines = [
        TiredLine(
            person_id=pk,
            name=rows[0].lead.name,
            on_duty_hours=None if pk not in since else round((now - since[pk]).total_seconds() / 3600, 1),
            crews=", ".join(crew.name for crew in rows),
            starts_at=rows[0].starts_at,
            stops=tuple(stops[pk]),
        )
        for pk, rows in by_lead.items()
    ]
    lines.sort(key=lambda line: (-(line.on_duty_hours or 0), line.starts_at, line.name))
    return ReleaseChoice(now, until, figure("rest_hours"), area.zone, tuple(lines[:MOST_PEOPLE]))


def release_done(*, key: UUID, area: Area) -> ReleaseDone | None:
    """What the release with this key did, or None; names and numbers are read as they are now, in five queries."""
    calls = UseCaseCall.objects.filter(key=key, verb="release_lead", outcome=UseCaseCall.Outcome.DONE)
    kept = calls.values_list("answer", flat=True).first()
    if not kept:
        return None
    person = Person.objects.filter(pk=kept["person_id"], area=area).first()
    if person is None:
        return None
    rows = [*kept["stops"], *kept["moved_besides"]]
    visits = Visit.objects.select_related("job").in_bulk([row["visit_id"] for row in rows])
    contacts = Contact.objects.in_bulk([row["contact_id"] for row in rows if row["contact_id"]])
    crew_ids = [row["crew_id"] for row in rows if row["crew_id"]]
    crews = dict(Crew.objects.filter(pk__in=crew_ids).values_list("pk", "name"))
    to_call: list[ToldLine] = []
    told: list[ToldLine] = []
    same: list[ToldLine] = []
    for row in rows:
        job, contact = visits[row["visit_id"]].job, contacts.get(row["contact_id"])
        who = (
            "" if contact is None else " ".join(part for part in (contact.name or contact.role, contact.phone) if part)
        )
        was = datetime.fromisoformat(row["was"])
        starts_at = None if row["starts_at"] is None else datetime.fromisoformat(row["starts_at"])
        line = ToldLine(
            job_number=job.number,
            place=f"{job.street}, {job.town}, {job.state}",
            crew=crews.get(row["crew_id"], ""),
            was=was,
            starts_at=starts_at,
            zone=ZoneInfo(job.time_zone),
            told=who if row["notice_id"] else "",
            call="" if row["notice_id"] else who or "nobody on record has a number",
            why=row["why"],
        )
        (same if was == starts_at else told if row["notice_id"] else to_call).append(line)
    until = datetime.fromisoformat(kept["until"])
    return ReleaseDone(person.name, until, area.zone, tuple(to_call), tuple(told), tuple(same))
