"""What the rota's page shows of one day and the night that begins on it."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from dispatch.models import CallOutOrder, Crew, Person, RotaChange, Shift
from dispatch.rota.effects import short_rests
from dispatch.rota.nights import night, tonight
from dispatch.single_points import SinglePoint, single_points
from equipment.models import Vehicle
from jobs.models import Area

MOST_CHANGES = 40


@dataclass(frozen=True)
class ShiftLine:
    """One shift, with the crews on which its person works in these hours."""

    shift_id: int
    person_id: int
    person: str
    kind: str
    kind_word: str
    starts_at: datetime
    ends_at: datetime
    crews: tuple[str, ...]
    over: bool = False


@dataclass(frozen=True)
class OrderLine:
    """One place in the call-out order of the night."""

    position: int
    person_id: int
    person: str
    phone: str


@dataclass(frozen=True)
class ChangeLine:
    """One change of the rota: who, when, why, and what it did."""

    at: datetime
    by: str
    what: str
    did: tuple[str, ...]
    reason: str


@dataclass(frozen=True)
class Working:
    """Somebody who works here and can be put on the rota."""

    person_id: int
    name: str


@dataclass(frozen=True)
class RotaPage:
    """Everything on `/desk/rota`: a day, the night that begins on it, and what hangs on one person tonight."""

    area_id: int
    area: str
    zone: ZoneInfo
    day: date
    is_tonight: bool
    shifts: tuple[ShiftLine, ...]
    order: tuple[OrderLine, ...]
    short_rests: tuple[str, ...]
    single_points: tuple[SinglePoint, ...]
    changes: tuple[ChangeLine, ...]
    people: tuple[Working, ...]

    @property
    def before(self) -> date:
        return self.day - timedelta(days=1)

    @property
    def after(self) -> date:
        return self.day + timedelta(days=1)


def rota_page(*, area: Area, now: datetime, day: date | None = None) -> RotaPage:
    """The rota of one day, in a fixed number of queries; left out: of the night that runs or comes next."""
    running = tonight(area, now)
    hours = running if day is None else night(area, day)
    begins = datetime.combine(hours.of, time(), tzinfo=area.zone)
    shifts = list(
        Shift.objects.filter(person__area=area, starts_at__lt=hours.ends_at, ends_at__gt=begins)
        .select_related("person")
        .order_by("starts_at", "person__name")
    )
    crews: dict[int, list[tuple[Crew, str]]] = defaultdict(list)
    for crew in Crew.objects.filter(area=area, starts_at__lt=hours.ends_at, ends_at__gt=begins).order_by("starts_at"):
        crews[crew.lead_id].append((crew, f"leads {crew.name}"))
        if crew.helper_id is not None:
            crews[crew.helper_id].append((crew, f"helps on {crew.name}"))
    people = list(Person.objects.filter(area=area, active=True).order_by("name"))
    at_work = {shift.person_id for shift in shifts}
    order = CallOutOrder.objects.filter(area=area, night_of=hours.of).select_related("person").order_by("position")
    return RotaPage(
        area_id=area.pk,
        area=area.name,
        zone=area.zone,
        day=hours.of,
        is_tonight=hours == running,
        shifts=tuple(_line(shift, crews[shift.person_id], over=shift.ends_at <= now) for shift in shifts),
        order=tuple(OrderLine(row.position, row.person_id, row.person.name, row.person.phone) for row in order),
        short_rests=tuple(short_rests([person for person in people if person.pk in at_work], area=area, night=hours)),
        single_points=single_points(area=area, now=now) if hours == running else (),
        changes=_changes(area, begins, hours.ends_at),
        people=tuple(Working(person.pk, person.name) for person in people),
    )


def vehicles(area: Area) -> tuple[tuple[int, str], ...]:
    """The vehicles that can have a crew, each with its id and name (1 query)."""
    rows = (
        Vehicle.objects.filter(area=area, in_workshop=False, loan=None)
        .order_by("code")
        .values_list("pk", "code", "name")
    )
    return tuple((pk, name if code in name else f"{code} {name}") for pk, code, name in rows)


def next_day(day: date) -> date:
    return day + timedelta(days=1)


def shift_line(shift_id: int) -> ShiftLine | None:
    """One shift, or None if it is there no more."""
    shift = Shift.objects.select_related("person").filter(pk=shift_id).first()
    return None if shift is None else _line(shift, [])


def others_shifts(shift_id: int, *, area: Area, now: datetime, days: int = 7) -> tuple[ShiftLine, ...]:
    """The shifts of others with which this one can be swapped: to come within some days of it."""
    shift = Shift.objects.filter(pk=shift_id).first()
    if shift is None:
        return ()
    near = timedelta(days=days)
    rows = Shift.objects.filter(
        person__area=area, starts_at__lt=shift.ends_at + near, ends_at__gt=max(now, shift.starts_at - near)
    )
    rows = rows.exclude(person_id=shift.person_id).select_related("person").order_by("starts_at", "person__name")
    return tuple(_line(row, []) for row in rows)


def _line(shift: Shift, crews: list[tuple[Crew, str]], *, over: bool = False) -> ShiftLine:
    return ShiftLine(
        shift_id=shift.pk,
        person_id=shift.person_id,
        person=shift.person.name,
        kind=shift.kind,
        kind_word=shift.get_kind_display(),
        starts_at=shift.starts_at,
        ends_at=shift.ends_at,
        crews=tuple(word for crew, word in crews if crew.starts_at < shift.ends_at and shift.starts_at < crew.ends_at),
        over=over,
    )


def _changes(area: Area, starts_at: datetime, ends_at: datetime) -> tuple[ChangeLine, ...]:
    rows = RotaChange.objects.filter(area=area, starts_at__lt=ends_at, ends_at__gt=starts_at)
    return tuple(
        ChangeLine(
            row.changed_at,
            row.changed_by.get_full_name() or row.changed_by.get_username(),
            row.get_what_display(),
            tuple(row.did),
            row.reason,
        )
        for row in rows.select_related("changed_by").order_by("-changed_at", "-pk")[:MOST_CHANGES]
    )
