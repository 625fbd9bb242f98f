"""The surge page: what can be served, what to bring where, what to rent by when, what running jobs could give back."""

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from geopy.distance import great_circle

from dispatch.manager import surge
from dispatch.manager.loans import LoanLine, loans
from dispatch.manager.pages import CrewHours, crews_by_hours_left
from dispatch.rules import figure
from equipment import selectors as equipment
from equipment.models import Warehouse
from equipment.selectors import Spare
from equipment.selectors.by_hour import FreeHours, free_by_hour
from jobs import places
from jobs.models import Area, Call, Visit

HOURS_AHEAD = 24
RATE_OVER = timedelta(hours=2)
MOST_ROWS = 60


@dataclass(frozen=True)
class GivesBack:
    """What one job could give back for one reason, all its rooms together: ((model, units), ...)."""

    job_number: str
    town: str
    units: tuple[tuple[str, int], ...]
    why: str


@dataclass(frozen=True)
class SurgePage:
    """Everything on `/manager/surge`. Suggestions: the manager decides."""

    area: str
    zone: ZoneInfo
    now: datetime
    rule: surge.SetRule
    waiting: int
    booked: int
    calls_an_hour: float
    capacity: surge.Capacity
    bases: tuple[tuple[str, tuple[tuple[str, int, int], ...], int], ...]
    transfers: tuple[surge.Transfer, ...]
    runs_out: tuple[tuple[surge.RunsOut, datetime | None], ...]
    crews: tuple[CrewHours, ...]
    release: tuple[GivesBack, ...]
    more_release: int
    lent: tuple[LoanLine, ...]


def set_rule() -> surge.SetRule:
    """The rule data of a stabilizing set."""
    return surge.SetRule(
        units={
            surge.AIR_MOVERS: figure("stabilizing_air_movers"),
            surge.DEHUMIDIFIERS: figure("stabilizing_dehumidifiers"),
        },
        minutes=figure("stabilizing_seconds") // 60,
        drive_minutes=figure("stabilizing_drive_minutes"),
        reserve_percent=figure("stabilizing_reserve_percent"),
    )


def surge_page(*, area: Area, now: datetime) -> SurgePage:
    """The surge of one area at one moment; a fixed number of queries."""
    rule, crews = set_rule(), crews_by_hours_left(area, now)
    near = _waiting_near(area)
    bases = _bases(free_by_hour(area_id=area.pk, now=now, hours=HOURS_AHEAD), near)
    rate = Call.objects.filter(area=area, started_at__gt=now - RATE_OVER).count() / (RATE_OVER / timedelta(hours=1))
    booked = Visit.objects.filter(
        job__area=area, kind__in=[Visit.Kind.EMERGENCY, Visit.Kind.FIRST], state=Visit.State.DUE
    )
    spare = sorted(
        equipment.spare_at_jobs(area_id=area.pk, kinds=[k for kinds in surge.KINDS.values() for k in kinds], now=now),
        key=lambda row: (-(row.hours_since_goal or 0), row.job_number, row.model),
    )
    release = gives_back(spare)
    return SurgePage(
        area=area.name,
        zone=area.zone,
        now=now,
        rule=rule,
        waiting=sum(near.values()),
        booked=booked.count(),
        calls_an_hour=rate,
        capacity=surge.capacity(bases, [crew.hours_left for crew in crews], rule),
        bases=tuple(
            (
                base.name,
                tuple((part, free[0], rule.usable(free[0], base.stock[part])) for part, free in base.free.items()),
                base.waiting,
            )
            for base in bases
        ),
        transfers=surge.transfers(bases, rule),
        runs_out=tuple(
            (row, None if row.in_hours is None else now + timedelta(hours=row.in_hours))
            for row in surge.runs_out(bases, rule, rate)
        ),
        crews=crews,
        release=release[:MOST_ROWS],
        more_release=max(0, len(release) - MOST_ROWS),
        lent=loans(area=area, now=now).lines,
    )


def gives_back(spare: Iterable[Spare]) -> tuple[GivesBack, ...]:
    """One row for each job and reason, in the order of the rows; a model's units in several rooms are one number."""
    found: dict[tuple[str, str, str], Counter[str]] = defaultdict(Counter)
    for row in spare:
        found[row.job_number, row.town, row.why][row.model] += row.count
    return tuple(
        GivesBack(number, town, tuple(sorted(units.items())), why) for (number, town, why), units in found.items()
    )


def _bases(rows: tuple[FreeHours, ...], near: Counter[str]) -> tuple[surge.Base, ...]:
    found = []
    for name in sorted({row.warehouse for row in rows}):
        free = {
            part: [
                sum(hour)
                for hour in zip(*(row.free for row in rows if row.warehouse == name and row.kind in kinds), strict=True)
            ]
            or [0] * (HOURS_AHEAD + 1)
            for part, kinds in surge.KINDS.items()
        }
        stock = {
            part: sum(row.stock for row in rows if row.warehouse == name and row.kind in kinds)
            for part, kinds in surge.KINDS.items()
        }
        found.append(surge.Base(name, stock, free, near[name]))
    return tuple(found)


def _waiting_near(area: Area) -> Counter[str]:
    """Waiting callers by their nearest warehouse; one whose place is not known yet counts at the first by name."""
    bases = list(Warehouse.objects.filter(area=area).order_by("name"))
    near: Counter[str] = Counter({base.name: 0 for base in bases})
    for answers in Call.objects.filter(area=area, ended_at__isnull=True).values_list("answers", flat=True):
        told = {
            "zip_code": answers.get("zip_code", ""),
            "town": answers.get("town", ""),
            "state": answers.get("state", ""),
        }
        place = places.find(**told).place if any(told.values()) else None
        if bases:
            nearest = bases[0] if place is None else min(bases, key=lambda base: _apart(base, place.lat, place.lon))
            near[nearest.name] += 1
    return near


def _apart(base: Warehouse, lat: float, lon: float) -> float:
    miles: float = great_circle((base.lat, base.lon), (lat, lon)).miles
    return miles
