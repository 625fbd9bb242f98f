"""
The crew lead's day, for one lead only: their own route, and what each stop asks for.

Access codes and care needs are read here for the assigned crew, and only while the job is open.
"""

from collections import Counter, defaultdict
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from django.contrib.auth.models import User
from django.db.models import Q

from dispatch.crew.driving import legs
from dispatch.crew.hours import MyHours, Spent, my_hours
from dispatch.models import CallOut, CallOutStep, Card, Crew, Stop
from dispatch.overrides import in_force
from dispatch.positions import LastKnown, Step, last_known
from dispatch.rules import figure
from dispatch.wording import in_names
from equipment.models import EquipmentModel, LoadLine, LoadList, SizingReport, UnitNow
from jobs.calls.hazards import WORDS
from jobs.models import Contact, Job, PrivateFacts, Visit


@dataclass(frozen=True)
class Ask:
    """A call-out that waits for this lead's answer."""

    call_out_id: int
    number: str
    place: str
    answer_by: datetime


@dataclass(frozen=True)
class Lot:
    """So many of one model, or of one kind of equipment."""

    count: int
    model: str


@dataclass(frozen=True)
class StopPage:
    """One stop as the phone shows it."""

    visit_id: int
    job_id: int
    number: str
    position: int
    way_min: int
    way_miles: float
    kind: str
    kind_word: str
    state: str
    state_word: str
    arrive_at: datetime
    start_at: datetime
    leave_at: datetime
    window: tuple[datetime, datetime] | None
    address: str
    lat: float
    lon: float
    zone: ZoneInfo
    people: tuple[tuple[str, str, str], ...]
    access: str
    care: str
    hazards: tuple[str, ...]
    limits: str
    authorized: bool
    us_state: str
    at_goal: bool
    elevation_ft: int
    category: int | None
    bring: tuple[Lot, ...]
    fetch: str
    fetch_at: datetime | None
    fetched_at: datetime | None
    there: tuple[tuple[str, str, str], ...]
    collect: tuple[Lot, ...]
    note: str
    left_at: datetime | None
    arrived_at: datetime | None
    finished_at: datetime | None
    override: str = ""


@dataclass(frozen=True)
class DayPage:
    """Everything on `/crew`."""

    crew: str
    people: str
    vehicle: str
    starts_at: datetime
    ends_at: datetime
    zone: ZoneInfo
    stops: tuple[StopPage, ...]
    lapsing: tuple[tuple[str, str], ...]
    hours: MyHours
    area: str
    last: LastKnown | None

    @property
    def next_stop(self) -> StopPage | None:
        return next((stop for stop in self.stops if stop.finished_at is None and stop.state in OPEN), None)


OPEN = (Visit.State.DUE, Visit.State.UNDER_WAY)


def crew_now(*, user: User, now: datetime) -> Crew | None:
    """The crew that the lead is with now, else the next one within a day, else the one that ended last today."""
    crews = Crew.objects.filter(lead__user=user).select_related(
        "lead", "helper", "vehicle", "area", "start", "phone_position"
    )
    near = crews.filter(starts_at__lt=now + timedelta(hours=24), at_latest__gt=now - timedelta(hours=6))
    ranked = sorted(near, key=lambda crew: (not crew.starts_at <= now < crew.at_latest, abs(crew.starts_at - now)))
    return ranked[0] if ranked else None


def on_route(*, user: User, job_id: int, now: datetime) -> bool:
    """Whether the job is on the lead's own route (2 queries)."""
    crew = crew_now(user=user, now=now)
    return crew is not None and Stop.objects.filter(crew=crew, visit__job=job_id).exists()


def asks(*, user: User) -> tuple[Ask, ...]:
    """Call-outs that wait for this lead."""
    steps = (
        CallOutStep.objects.filter(person__user=user, answer="", call_out__state=CallOut.State.ASKING)
        .select_related("call_out__visit__job")
        .order_by("asked_at")[:5]
    )
    return tuple(
        Ask(step.call_out_id, job.number, f"{job.street}, {job.town}, {job.state}", step.answer_by)
        for step in steps
        for job in (step.call_out.visit.job,)
    )


def day_page(*, user: User, now: datetime) -> DayPage | None:
    """The lead's day; fifteen queries, however many stops. None when no crew is theirs."""
    crew = crew_now(user=user, now=now)
    if crew is None:
        return None
    stops = _stops(Q(crew=crew), crew, now)
    today = now.astimezone(crew.area.zone).date()
    lapsing = Card.objects.filter(person=crew.lead, expires_on__lte=today + timedelta(days=60)).order_by("expires_on")
    return DayPage(
        crew=crew.name,
        people=crew.lead.name if crew.helper is None else f"{crew.lead.name} with {crew.helper.name}",
        vehicle=crew.vehicle.name,
        starts_at=crew.starts_at,
        ends_at=crew.ends_at,
        zone=crew.area.zone,
        stops=stops,
        lapsing=tuple((card.kind.replace("_", " "), f"{card.expires_on:%b %d, %Y}") for card in lapsing[:10]),
        hours=my_hours(
            crew=crew,
            spent=[Spent(stop.number, stop.left_at, stop.arrived_at, stop.finished_at) for stop in stops],
            now=now,
        ),
        area=crew.area.name,
        last=last_known(crew=crew, steps=[_step(stop) for stop in stops], now=now),
    )


def _step(stop: StopPage) -> Step:
    return Step(stop.number, stop.lat, stop.lon, stop.left_at, stop.arrived_at, stop.finished_at)


def stop_page(*, user: User, visit_id: int, now: datetime) -> StopPage | None:
    """One stop of the lead's own route, or None: another crew's stop is nobody else's business."""
    crew = crew_now(user=user, now=now)
    if crew is None:
        return None
    found = _stops(Q(crew=crew, visit_id=visit_id), crew, now)
    return found[0] if found else None


def _stops(which: Q, crew: Crew, now: datetime) -> tuple[StopPage, ...]:
    stops = list(Stop.objects.filter(which).select_related("visit__job", "fetch_from").order_by("position", "start_at"))
    job_ids = [stop.visit.job_id for stop in stops]
    people: dict[int, list[tuple[str, str, str]]] = defaultdict(list)
    for contact in Contact.objects.filter(job_id__in=job_ids).order_by("pk"):
        people[contact.job_id].append((contact.role, contact.name, contact.phone))
    private = {row.job_id: row for row in PrivateFacts.objects.filter(job_id__in=job_ids, erased_at__isnull=True)}
    there: dict[int, list[tuple[str, str, str]]] = defaultdict(list)
    units = UnitNow.objects.filter(holder__job_id__in=job_ids).order_by("unit__number")
    for job_id, number, model, room in units.values_list(
        "holder__job_id", "unit__number", "unit__model__name", "room_name"
    ):
        there[job_id].append((number, model, room))
    bring = _bring(job_ids, crew)
    words = in_force([crew], now=now).get(crew.pk, ())
    said = {job_id: " ".join(word.mark for word in words if word.is_for(job_id=job_id)) for job_id in job_ids if words}
    return tuple(
        replace(
            _stop(stop, people, private, there, bring),
            override=said.get(stop.visit.job_id, ""),
            way_min=minutes,
            way_miles=miles,
        )
        for stop, (minutes, miles) in zip(stops, legs(crew, stops), strict=True)
    )


def _bring(job_ids: list[int], crew: Crew) -> dict[int, Counter[str]]:
    """What goes along: by model from the newest sizing, and what the load list adds."""
    bring: dict[int, Counter[str]] = defaultdict(Counter)
    names = dict(EquipmentModel.objects.values_list("code", "name"))
    for report in SizingReport.objects.filter(job_id__in=job_ids).order_by("made_at", "pk"):
        if report.job_id is not None:
            bring[report.job_id] = Counter()
            for row in report.report["mix"]:
                bring[report.job_id][names.get(row["model"], row["model"])] += row["count"]
    lines = LoadLine.objects.filter(
        job_id__in=job_ids, load_list__vehicle=crew.vehicle, load_list__state=LoadList.State.OPEN
    ).select_related("model")
    for line in lines:
        if line.job_id is not None:
            bring[line.job_id][line.model.name] = max(bring[line.job_id][line.model.name], line.wanted)
    return bring


def _stop(
    stop: Stop,
    people: dict[int, list[tuple[str, str, str]]],
    private: dict[int, PrivateFacts],
    there: dict[int, list[tuple[str, str, str]]],
    bring: dict[int, Counter[str]],
) -> StopPage:
    visit, job = stop.visit, stop.visit.job
    window = None
    if visit.window_from is not None and visit.window_until is not None:
        window = (visit.window_from, visit.window_until)
    secret = None if job.stage == Job.Stage.CLOSED else private.get(job.pk)
    first = visit.kind in (Visit.Kind.EMERGENCY, Visit.Kind.FIRST, Visit.Kind.DELIVERY)
    return StopPage(
        visit_id=visit.pk,
        job_id=job.pk,
        number=job.number,
        position=stop.position,
        way_min=0,
        way_miles=0.0,
        kind=visit.kind,
        kind_word=visit.kind_words,
        state=visit.state,
        state_word=visit.get_state_display(),
        arrive_at=stop.arrive_at,
        start_at=stop.start_at,
        leave_at=stop.leave_at,
        window=window,
        address=f"{job.street}{' ' + job.unit if job.unit else ''}, {job.town}, {job.state} {job.zip_code}".strip(),
        lat=job.lat,
        lon=job.lon,
        zone=ZoneInfo(job.time_zone),
        people=tuple(people[job.pk]),
        access="" if secret is None else secret.access,
        care="" if secret is None else secret.care,
        hazards=tuple(_hazards(job)),
        limits=job.authorized_limits,
        authorized=job.authorized_at is not None,
        us_state=job.state,
        at_goal=job.stage == Job.Stage.AT_GOAL,
        elevation_ft=job.elevation_ft,
        category=job.category,
        bring=tuple(Lot(count, name) for name, count in sorted(bring[job.pk].items())) if first else (),
        fetch="" if stop.fetch_from is None else stop.fetch_from.name,
        fetch_at=stop.fetch_at,
        fetched_at=stop.fetched_at,
        there=tuple(there[job.pk]),
        collect=_collect(visit, there[job.pk]),
        note=visit.note,
        left_at=visit.left_at,
        arrived_at=visit.arrived_at,
        finished_at=visit.finished_at,
    )


def _collect(visit: Visit, there: list[tuple[str, str, str]]) -> tuple[Lot, ...]:
    """What should come back: everything that stands there on a pick-up, else what the visit was told, by kind."""
    if visit.kind == Visit.Kind.PICK_UP and there:
        return tuple(Lot(count, model) for model, count in sorted(Counter(model for _, model, _ in there).items()))
    told: dict[str, int] = visit.needs.get("collect", {})
    return tuple(Lot(count, in_names(kind, {})) for kind, count in sorted(told.items()))


def _hazards(job: Job) -> list[str]:
    """The hazards that were told, and those that the building's age brings."""
    found = [WORDS.get(str(hazard), str(hazard).replace("_", " ")) for hazard in job.hazards]
    if job.category == 3:
        found.append("category 3 water: protective gear, no air movement before cleaning")
    if job.power != Job.Power.ON:
        found.append("power is not sure to be on")
    if job.year_built is not None and job.year_built < figure("lead_paint_before_year"):
        found.append("built before 1978: lead paint is possible; follow lead-safe rules before disturbing paint")
    return found
