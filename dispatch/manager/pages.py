"""What the manager must see before it goes wrong, read in a fixed number of queries."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from dispatch import crew_facts
from dispatch.eligibility import CARD_WORDS
from dispatch.manager.loans import LoanLine, loans
from dispatch.measures.cases import Span
from dispatch.measures.tables import Chosen
from dispatch.models import Card, Person
from dispatch.overrides import Overridden, overrides
from dispatch.rules import figure
from dispatch.single_points import SinglePoint, single_points
from equipment import selectors as equipment
from equipment.models import Warehouse
from jobs.calls.urgency import LEVELS, urgency_of
from jobs.clock_board import Clocks, running_clocks
from jobs.clock_times import in_words
from jobs.drying_log import drying_logs
from jobs.expected_dry import expected_dry
from jobs.models import Area, Call, Job, Payer, UrgencyWord

MOST_ROWS = 60
CLOCKS_AHEAD = 12
# When a lapsing card is worth a word: two months to book a class, a month to chase it, a week to act.
CARD_DAYS = (7, 30, 60)
EVENING, MORNING = 18, 8
REFUSED_DAYS = 7


@dataclass(frozen=True)
class WaitingCaller:
    """A caller who waits: how urgent by the manager's word or the suggestion, how long, whose, and when next phoned."""

    call_id: int
    place: str
    level: str
    why: str
    aim: str
    minutes: int
    age: str
    owner: str
    left: str


@dataclass(frozen=True)
class CrewHours:
    """How much of its day a crew has left: the shorter of its shift and what its people may be awake."""

    name: str
    people: str
    hours_left: float
    said: str


@dataclass(frozen=True)
class FreeModel:
    """One model: (free now, by the evening, tomorrow morning) at each warehouse, aboard vehicles, and in all."""

    model: str
    places: tuple[tuple[str, tuple[int, int, int]], ...]
    total: tuple[int, int, int]


@dataclass(frozen=True)
class DueDry:
    """A job that may be dry within the next days, with the range and its reason; only a reading decides."""

    job_number: str
    town: str
    low_at: datetime
    high_at: datetime
    why: str


@dataclass(frozen=True)
class LapsingCard:
    """A card that lapses soon; `within` is the nearest of the bands it falls into, 0 once it has lapsed."""

    person: str
    card: str
    expires_on: date
    days: int
    within: int


@dataclass(frozen=True)
class RefusedWork:
    """A call that ended without a crew, and why."""

    call_id: int
    at: datetime
    place: str
    reason: str


@dataclass(frozen=True)
class Overview:
    """Everything on `/manager`."""

    area: str
    zone: ZoneInfo
    now: datetime
    waiting: tuple[WaitingCaller, ...]
    clocks: Clocks
    crews: tuple[CrewHours, ...]
    evening: datetime
    morning: datetime
    free_places: tuple[str, ...]
    free: tuple[FreeModel, ...]
    rented: int
    rented_daily_cost: Decimal
    due_dry: tuple[DueDry, ...]
    wet_unknown: int
    cards: tuple[LapsingCard, ...]
    refused: tuple[RefusedWork, ...]
    refused_count: int
    single_points: tuple[SinglePoint, ...]
    overrides: tuple[Overridden, ...]
    lent: tuple[LoanLine, ...]


@dataclass(frozen=True)
class Choices:
    """What the measures can be narrowed to, and what is chosen."""

    month: str
    before: str
    after: str
    first: date
    warehouses: tuple[str, ...]
    crews: tuple[str, ...]
    payers: tuple[str, ...]
    chosen: Chosen


def overview(*, area: Area, now: datetime) -> Overview:
    """The manager's page of one area at one moment."""
    evening, morning = _next(area.zone, now, EVENING), _next(area.zone, now, MORNING)
    places, free = _free(area, (now, evening, morning))
    rented = equipment.rentals(area_id=area.pk, now=now)
    dry, unknown = _due_dry(area, now)
    refused = Call.objects.filter(
        area=area, ended_as=Call.EndedAs.NO_CREW, ended_at__gt=now - timedelta(days=REFUSED_DAYS)
    )
    return Overview(
        area=area.name,
        zone=area.zone,
        now=now,
        waiting=_waiting(area, now),
        clocks=running_clocks(area_id=area.pk, zone=area.zone, now=now, most_ahead=CLOCKS_AHEAD),
        crews=crews_by_hours_left(area, now),
        evening=evening,
        morning=morning,
        free_places=places,
        free=free,
        rented=len(rented.running),
        rented_daily_cost=rented.daily_cost,
        due_dry=dry,
        wet_unknown=unknown,
        cards=_cards(area, now.astimezone(area.zone).date()),
        refused=tuple(
            RefusedWork(call.pk, call.started_at, _place(call), call.end_reason or "no reason named")
            for call in refused.order_by("-started_at")[:MOST_ROWS]
        ),
        refused_count=refused.count(),
        single_points=single_points(area=area, now=now),
        overrides=overrides(area_id=area.pk, since=now - timedelta(days=REFUSED_DAYS))[:MOST_ROWS],
        lent=loans(area=area, now=now).lines,
    )


def choices(*, area: Area, span: Span, chosen: Chosen) -> Choices:
    """The months beside this one, and the names to choose from (3 queries)."""
    before = (span.first - timedelta(days=1)).replace(day=1)
    following = "" if span.until > span.now.astimezone(span.zone).date() else f"{span.until:%Y-%m}"
    people = Person.objects.filter(area=area, can_lead=True, active=True).order_by("name")
    return Choices(
        f"{span.first:%Y-%m}",
        f"{before:%Y-%m}",
        following,
        span.first,
        tuple(Warehouse.objects.filter(area=area).order_by("name").values_list("name", flat=True)),
        tuple(people.values_list("name", flat=True)),
        tuple(Payer.objects.order_by("name").values_list("name", flat=True)),
        chosen,
    )


def _next(zone: ZoneInfo, now: datetime, hour: int) -> datetime:
    """The next time that the area's clock shows this hour; for the morning hour, always tomorrow's."""
    local = now.astimezone(zone)
    at = local.replace(hour=hour, minute=0, second=0, microsecond=0)
    later = at <= local or hour == MORNING
    return at if not later else (at + timedelta(days=1))


def _place(call: Call) -> str:
    said = [call.answers.get(part) for part in ("town", "state")]
    return ", ".join(part for part in said if part) or "place not known yet"


def _waiting(area: Area, now: datetime) -> tuple[WaitingCaller, ...]:
    calls = list(Call.objects.filter(area=area, ended_at__isnull=True).select_related("owner"))
    words: dict[int, UrgencyWord] = {}
    for word in UrgencyWord.objects.filter(call__in=calls).order_by("said_at", "pk"):
        words[word.call_id] = word
    lines = []
    for call in calls:
        suggested = urgency_of({**call.answers, **call.private_answers}, call.rooms)
        said = words.get(call.pk)
        level = said.level if said else suggested.level if suggested else ""
        why = f"a manager's word: {said.reason}" if said else suggested.why if suggested else "not enough is told yet"
        minutes = int((now - call.started_at).total_seconds() // 60)
        lines.append(
            WaitingCaller(
                call.pk,
                _place(call),
                level or "Not known yet",
                why,
                LEVELS.get(level, ""),
                minutes,
                f"{minutes} min" if minutes < 120 else f"{minutes // 60} h {minutes % 60} min",
                call.owner.get_full_name() or call.owner.get_username(),
                "" if call.next_contact_at is None else in_words(due_at=call.next_contact_at, now=now),
            )
        )
    order = {level: number for number, level in enumerate(LEVELS)}
    # Nothing known may be the worst: it stands right after those in danger.
    return tuple(sorted(lines, key=lambda line: (order.get(line.level, 0.5), -line.minutes, line.call_id)))


def crews_by_hours_left(area: Area, now: datetime) -> tuple[CrewHours, ...]:
    """Our own crews of tonight, the one with the least time left first (5 queries)."""
    most_h, rest_h = figure("most_awake_hours"), figure("rest_hours")
    lines = []
    ours = [crew for crew in crew_facts.crews_around(area_id=area.pk, now=now) if crew.loan_id is None]
    for row in crew_facts.rows_of(ours, now=now):
        crew, members = row.crew, [row.facts.lead, *([row.facts.helper] if row.facts.helper else [])]
        awake = min((member.awake_since for member in members if member.awake_since), default=None)
        rested = max((member.last_worked_until for member in members if member.last_worked_until), default=None)
        ready_at = None if rested is None else rested + timedelta(hours=rest_h)
        people = " with ".join(member.name for member in members)
        if awake is not None:
            awake_until = awake + timedelta(hours=most_h)
            left = (min(awake_until, crew.at_latest) - now).total_seconds() / 3600
            said = f"on duty {(now - awake).total_seconds() / 3600:.0f} h"
            said += f", {left:.0f} h left" if left > 0 else ", over the limit: release them"
        elif ready_at is not None and ready_at > max(now, crew.starts_at):
            left, said = 0.0, f"rested from {_clock(ready_at, area.zone)}"
        else:
            left = (crew.at_latest - max(now, crew.starts_at)).total_seconds() / 3600
            said = f"rested, {left:.0f} h of the shift ahead"
        lines.append(CrewHours(crew.name, people, round(left, 1), said))
    return tuple(sorted(lines, key=lambda line: (line.hours_left, line.name)))


def _clock(at: datetime, zone: ZoneInfo) -> str:
    return f"{at.astimezone(zone):%I:%M %p}".lstrip("0")


def _free(area: Area, times: tuple[datetime, datetime, datetime]) -> tuple[tuple[str, ...], tuple[FreeModel, ...]]:
    counts: dict[str, dict[str, list[int]]] = defaultdict(lambda: defaultdict(lambda: [0, 0, 0]))
    names: set[str] = set()
    for column, at in enumerate(times):
        for row in equipment.availability(area_id=area.pk, now=times[0], at=at):
            if row.in_workshop:
                continue
            place = row.place if row.warehouse_id is not None else "Vehicles"
            names.add(place)
            counts[row.model][place][column] += row.free
    order = tuple(sorted(names, key=lambda name: (name == "Vehicles", name)))
    lines = []
    for model in sorted(counts):
        places = tuple((name, _three(counts[model][name])) for name in order)
        total = _three([sum(numbers[column] for _, numbers in places) for column in range(3)])
        lines.append(FreeModel(model, places, total))
    return order, tuple(lines)


def _three(numbers: Sequence[int]) -> tuple[int, int, int]:
    now, evening, morning = numbers
    return now, evening, morning


def _due_dry(area: Area, now: datetime) -> tuple[tuple[DueDry, ...], int]:
    """Jobs whose range ends soonest; and how many drying jobs have no range yet."""
    jobs = {
        pk: (number, town)
        for pk, number, town in Job.objects.filter(area=area, stage=Job.Stage.DRYING)
        .order_by("opened_at")
        .values_list("pk", "number", "town")[: 4 * MOST_ROWS]
    }
    lines, unknown = [], 0
    for pk, log in drying_logs(jobs).items():
        found = expected_dry(log, now=now)
        if found.low_at is None or found.high_at is None:
            unknown += 1
            continue
        lines.append(DueDry(*jobs[pk], found.low_at, found.high_at, found.why))
    return tuple(sorted(lines, key=lambda line: (line.high_at, line.job_number))[:MOST_ROWS]), unknown


def _cards(area: Area, today: date) -> tuple[LapsingCard, ...]:
    """Cards of people who work here that lapse within the longest band; those that have lapsed are named first."""
    longest = timedelta(days=CARD_DAYS[-1])
    rows = (
        Card.objects.filter(person__area=area, person__active=True, expires_on__lte=today + longest)
        .select_related("person")
        .order_by("expires_on", "person__name", "kind")[:MOST_ROWS]
    )
    lines = []
    for row in rows:
        assert row.expires_on is not None
        days = (row.expires_on - today).days
        within = 0 if days < 0 else next(band for band in CARD_DAYS if days <= band)
        words = f"{CARD_WORDS.get(row.kind, row.kind.replace('_', ' '))} {row.state}".strip()
        lines.append(LapsingCard(row.person.name, words, row.expires_on, days, within))
    return tuple(lines)
