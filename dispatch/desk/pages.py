"""What the desk's board shows, read in a fixed number of queries and handed over as frozen dataclasses."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from dispatch import crew_facts, outfit
from dispatch.crew_facts import CrewRow
from dispatch.desk.waiting_words import waiting_words
from dispatch.models import CallOut, CallOutStep, Plan, Stop
from dispatch.overrides import Overridden
from dispatch.positions import LastKnown, last_known, steps_of
from dispatch.rota.nights import tonight
from dispatch.single_points import SinglePoint, crews_of_night, single_points_of
from equipment.free_stock import free_pools
from equipment.models import Alarm, Holder, Warehouse
from jobs.clock_board import Clocks, running_clocks
from jobs.clock_times import in_words
from jobs.models import Area, Call, Visit

MOST_ROWS = 60
# Late clocks are all shown; of those ahead only what the next hours bring, so that tonight stays in sight.
CLOCKS_AHEAD = 8


@dataclass(frozen=True)
class StopLine:
    """One stop in words: when, what, where, how far it got."""

    at: datetime
    kind: str
    place: str
    job_number: str
    state: str
    override: str = ""


@dataclass(frozen=True)
class CrewLine:
    """One crew's day."""

    name: str
    people: str
    vehicle: str
    where: str
    until: datetime
    left: str
    stops: tuple[StopLine, ...]
    last: LastKnown | None


@dataclass(frozen=True)
class CallLine:
    """A call that has not ended."""

    call_id: int
    started_at: datetime
    place: str
    taken_by: str
    owner: str
    next_contact_at: datetime | None
    left: str


@dataclass(frozen=True)
class AskLine:
    """A crew that was asked and has not answered yet."""

    call_out_id: int
    job_number: str
    place: str
    person: str
    person_id: int
    asked_at: datetime
    answer_by: datetime
    silent: int


@dataclass(frozen=True)
class FreeLine:
    """
    One model: free units by warehouse, in the order of `Board.warehouses`. `counted_away`: so many were taken by model
    and their numbers are to come; they are not among the free.
    """

    model: str
    free: tuple[int, ...]
    total: int
    counted_away: int = 0
    kind: str = ""


@dataclass(frozen=True)
class DueLine:
    """A visit that is due and on nobody's route."""

    job_number: str
    place: str
    kind: str
    due_on: date


@dataclass(frozen=True)
class AlarmLine:
    """Something that somebody has to look at."""

    alarm_id: int
    said: str
    raised_at: datetime


@dataclass(frozen=True)
class Board:
    """Everything on `/desk`."""

    area: str
    zone: ZoneInfo
    now: datetime
    calls: tuple[CallLine, ...]
    clocks: Clocks
    asks: tuple[AskLine, ...]
    alarms: tuple[AlarmLine, ...]
    crews: tuple[CrewLine, ...]
    single_points: tuple[SinglePoint, ...]
    due: tuple[DueLine, ...]
    due_count: int
    warehouses: tuple[str, ...]
    free: tuple[FreeLine, ...]
    plans: tuple[tuple[int, date, str], ...]
    waiting: str = ""

    @property
    def free_by_warehouse(self) -> tuple[tuple[str, tuple[tuple[str, int], ...], int, int], ...]:
        """Each count beside its warehouse's name: (model, ((warehouse, free), ...), total, counted away)."""
        return tuple(
            (line.model, tuple(zip(self.warehouses, line.free, strict=True)), line.total, line.counted_away)
            for line in self.free
        )


def board(*, area: Area, now: datetime) -> Board:
    """The board of one area at one moment."""
    today = now.astimezone(area.zone).date()
    around = crew_facts.crews_around(area_id=area.pk, now=now)
    night_crews = crews_of_night(area, tonight(area, now), now=now)
    of_night = {crew.pk for crew in night_crews}
    shown = {crew.pk for crew in around}
    every = crew_facts.rows_of([*around, *(crew for crew in night_crews if crew.pk not in shown)], now=now)
    rows = [row for row in every if row.crew.pk in shown]
    loose = Visit.objects.filter(job__area=area, state=Visit.State.DUE, due_on__lte=today, stop__isnull=True)
    names, free = free_lines(area, now)
    return Board(
        area=area.name,
        zone=area.zone,
        now=now,
        calls=call_lines(area, now),
        clocks=running_clocks(area_id=area.pk, zone=area.zone, now=now, most_ahead=CLOCKS_AHEAD),
        asks=ask_lines(area),
        alarms=tuple(
            AlarmLine(alarm.pk, alarm.text, alarm.raised_at)
            for alarm in Alarm.objects.filter(area=area, settled_at__isnull=True).order_by("-raised_at")[:20]
        ),
        crews=tuple(crew_line(row, now) for row in rows),
        single_points=single_points_of([row for row in every if row.crew.pk in of_night], free, area=area, now=now),
        due=tuple(
            DueLine(v.job.number, f"{v.job.street}, {v.job.town}, {v.job.state}", v.kind_words, v.due_on)
            for v in loose.select_related("job").order_by("due_on", "pk")[:MOST_ROWS]
        ),
        due_count=loose.count(),
        warehouses=names,
        free=free,
        plans=tuple(
            (plan.pk, plan.service_day, plan.get_state_display())
            for plan in Plan.objects.filter(area=area, service_day__gte=today)
            .defer("problem", "outcome", "progress")
            .order_by("service_day", "-pk")[:4]
        ),
        waiting=waiting_words(now=now, zone=area.zone),
    )


def crew_line(row: CrewRow, now: datetime) -> CrewLine:
    """One crew in words."""
    crew = row.crew
    people = crew.lead.name if crew.helper is None else f"{crew.lead.name} with {crew.helper.name}"
    ahead = [stop for stop in row.stops if stop.visit.state == Visit.State.DUE]
    done = sum(stop.visit.state in (Visit.State.DONE, Visit.State.CANNOT_WORK) for stop in row.stops)
    left = "nothing planned" if not row.stops else f"{len(ahead)} of {len(row.stops)} stops left"
    if done and not ahead:
        left = f"all {done} stops done"
    return CrewLine(
        name=crew.name,
        last=last_known(crew=crew, steps=steps_of(row.stops), now=now),
        people=people,
        vehicle=crew.vehicle.name,
        where=_where(row, now),
        until=crew.ends_at,
        left=left,
        stops=tuple(_stop(stop, row.overrides) for stop in row.stops),
    )


def _stop(stop: Stop, words: Sequence[Overridden]) -> StopLine:
    visit = stop.visit
    state = visit.get_state_display()
    if visit.state == Visit.State.DUE:
        state = "on the way" if visit.left_at else ""
    at = visit.arrived_at or stop.start_at
    said = " ".join(word.mark for word in words if word.is_for(job_id=visit.job_id))
    place = f"{visit.job.town}, {visit.job.state}"
    return StopLine(at, visit.kind_words, place, visit.job.number, state, said)


def _where(row: CrewRow, now: datetime) -> str:
    """In words: at the last reported stop, on the way, at the warehouse, or not at work yet."""
    if row.crew.vehicle.in_workshop:
        return "vehicle in the workshop"
    for stop in reversed(row.stops):
        visit = stop.visit
        if visit.arrived_at is not None:
            verb = "at" if visit.finished_at is None else "last at"
            return f"{verb} {visit.job.number} in {visit.job.town}"
        if visit.left_at is not None:
            return f"on the way to {visit.job.number} in {visit.job.town}"
    if now < row.crew.starts_at:
        return "on call at home" if row.crew.on_call else "not at work yet"
    return "on call at home" if row.crew.on_call else f"at {row.crew.start.name}"


def call_lines(area: Area, now: datetime) -> tuple[CallLine, ...]:
    """Calls that have not ended, the one that waits longest first (1 query)."""
    calls = Call.objects.filter(area=area, ended_at__isnull=True).select_related("taken_by", "owner")
    return tuple(
        CallLine(
            call.pk,
            call.started_at,
            ", ".join(part for part in (call.answers.get("town"), call.answers.get("state")) if part)
            or "place not known yet",
            call.taken_by.get_full_name() or call.taken_by.get_username(),
            call.owner.get_full_name() or call.owner.get_username(),
            call.next_contact_at,
            "" if call.next_contact_at is None else in_words(due_at=call.next_contact_at, now=now),
        )
        for call in calls.order_by("started_at", "pk")
    )


def ask_lines(area: Area) -> tuple[AskLine, ...]:
    """Who was asked last for each call-out without an answer (1 query)."""
    steps = (
        CallOutStep.objects.filter(call_out__area=area, call_out__state=CallOut.State.ASKING)
        .select_related("person", "call_out__visit__job")
        .order_by("call_out_id", "-number")
    )
    lines: list[AskLine] = []
    silent: Counter[int] = Counter()
    latest: dict[int, CallOutStep] = {}
    for step in steps:
        latest.setdefault(step.call_out_id, step)
        silent[step.call_out_id] += step.answer == CallOutStep.Answer.SILENT
    for call_out_id, step in latest.items():
        job = step.call_out.visit.job
        lines.append(
            AskLine(
                call_out_id,
                job.number,
                f"{job.street}, {job.town}, {job.state}",
                step.person.name,
                step.person_id,
                step.asked_at,
                step.answer_by,
                silent[call_out_id],
            )
        )
    return tuple(lines[:MOST_ROWS])


def free_lines(area: Area, now: datetime) -> tuple[tuple[str, ...], tuple[FreeLine, ...]]:
    """The warehouses by name, and what each has free of every model for the next twelve hours (4 queries)."""
    warehouses = list(Warehouse.objects.filter(area=area).order_by("name"))
    holders = dict(Holder.objects.filter(warehouse__in=warehouses).values_list("pk", "warehouse_id"))
    column = {warehouse.pk: number for number, warehouse in enumerate(warehouses)}
    counts: dict[str, list[int]] = {}
    away: Counter[str] = Counter()
    kinds: dict[str, str] = {}
    starts_at, _ = outfit.stay_of(now)
    for pool in free_pools(place_ids=list(holders), starts_at=starts_at, ends_at=starts_at + timedelta(hours=12)):
        row = counts.setdefault(pool.model_name, [0] * len(warehouses))
        row[column[holders[pool.place_id]]] += pool.free
        away[pool.model_name] += pool.counted_away
        kinds[pool.model_name] = pool.kind
    lines = tuple(FreeLine(name, tuple(row), sum(row), away[name], kinds[name]) for name, row in sorted(counts.items()))
    return tuple(warehouse.name for warehouse in warehouses), lines
