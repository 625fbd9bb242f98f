"""What the stop shows of the equipment there: the last count, hour meters to compare with, the power plan."""

from collections import Counter
from dataclasses import dataclass
from datetime import datetime

from django.db.models import QuerySet
from django.http import QueryDict

from dispatch.crew.pages import StopPage
from dispatch.models import Crew
from equipment.models import UnitNow, Vehicle
from equipment.on_site.counts import SiteCountLine, counts_of
from equipment.on_site.meters import MeterLine, meters_of, seen_before
from equipment.on_site.power import PowerShown, power_at, units_at
from equipment.stock.run_hours import Says
from jobs.models import Job

# Air movers carry no hour meter; one whose meter was read once shows it all the same (trade practice).
METERED = frozenset({"lgr", "conventional", "desiccant", "air_scrubber", "cavity_kit", "floor_mat_kit", "generator"})


@dataclass(frozen=True)
class MeterToday:
    """The field of one unit's hour meter, with what was typed and the look before."""

    number: str
    model: str
    last: float | None
    last_at: datetime | None
    typed: str
    reason: str
    asked: bool

    @property
    def field(self) -> str:
        return f"m_{self.number}"


@dataclass(frozen=True)
class PlugToday:
    """The field of one unit's circuit, from 1."""

    number: str
    model: str
    amps: float
    circuit: str

    @property
    def field(self) -> str:
        return f"w_{self.number}"


@dataclass(frozen=True)
class AtOnce:
    """Everything at the job is dry: whether the vehicle takes all of it now, so that nobody has to come again."""

    numbers: tuple[str, ...]
    vehicle: str
    fits: bool


@dataclass(frozen=True)
class OnSite:
    """Everything of the equipment at a stop beyond the list of units."""

    count: SiteCountLine | None
    fewer: tuple[int, ...]
    meters: tuple[MeterToday, ...]
    silent: tuple[MeterLine, ...]
    power: PowerShown | None
    circuits: str
    plugs: tuple[PlugToday, ...]
    at_once: AtOnce | None
    share_pct: int = 80


def on_site(page: StopPage, typed: QueryDict, *, crew: Crew) -> OnSite:
    """Of one stop (8 queries, and 2 where everything is dry)."""
    counts, lines, drawing = counts_of(page.job_id), meters_of(page.job_id), units_at(page.job_id)
    power = power_at(page.job_id, drawing)
    newest = {line.number: line for line in lines}
    listed = len(page.there)
    return OnSite(
        counts[-1] if counts else None,
        tuple(n for n in range(listed - 1, max(listed - 4, -1), -1)),
        _meters(page, typed),
        tuple(line for line in newest.values() if line.says == Says.SILENT),
        power,
        typed.get("circuits") or _circuits(page, power),
        tuple(
            PlugToday(
                unit.number, unit.model, float(unit.amps), typed.get(f"w_{unit.number}") or _plug(unit.number, power)
            )
            for unit in drawing
        ),
        _at_once(page, crew.vehicle),
    )


def _at_once(page: StopPage, vehicle: Vehicle) -> AtOnce | None:
    if not page.at_goal or not page.there:
        return None
    needed, volume = _load(UnitNow.objects.filter(holder__job_id=page.job_id))
    aboard, taken = _load(UnitNow.objects.filter(holder__vehicle=vehicle))
    room = vehicle.capacity
    fits = all(count + aboard[kind] <= room.get(kind, 0) for kind, count in needed.items())
    fits = fits and volume + taken <= room.get("volume_cuft", 0)
    return AtOnce(tuple(number for number, _, _ in page.there), vehicle.name, fits)


def _load(units: QuerySet[UnitNow]) -> tuple[Counter[str], float]:
    """Units by kind, and the cubic feet that they fill."""
    rows = list(units.values_list("unit__model__kind", "unit__model__volume_cuft"))
    return Counter(kind for kind, _ in rows), sum(volume for _, volume in rows)


def _meters(page: StopPage, typed: QueryDict) -> tuple[MeterToday, ...]:
    rows = UnitNow.objects.filter(holder__job_id=page.job_id).select_related("unit__model", "holder")
    here = {row.unit: row.holder for row in rows.order_by("unit__number")}
    units = list(here)
    before = seen_before(units, here[units[0]]) if units else {}
    found = []
    for unit in units:
        last = before.get(unit.pk)
        if last is None and unit.model.kind not in METERED:
            continue
        hours, reason = typed.get(f"m_{unit.number}", ""), typed.get(f"mr_{unit.number}", "")
        found.append(
            MeterToday(
                unit.number,
                unit.model.name,
                None if last is None else last.hours,
                None if last is None else last.at,
                hours,
                reason,
                bool(hours),
            )
        )
    return tuple(found)


def _circuits(page: StopPage, power: PowerShown | None) -> str:
    """The circuits as they would be typed: those of the plan, else what was said on the phone."""
    if power is not None:
        return ", ".join(_typed(each.name, each.breaker_a, each.reserved_a) for each in power.circuits)
    told = Job.objects.filter(pk=page.job_id).values_list("circuits", flat=True).first() or []
    return ", ".join(_typed("", each["breaker_a"], each.get("reserved_a", 0)) for each in told)


def _typed(name: str, breaker_a: float, reserved_a: float) -> str:
    shown = "" if name.startswith("Circuit ") else name
    return f"{shown} {breaker_a:g}".strip() + (f" ({reserved_a:g})" if reserved_a else "")


def _plug(number: str, power: PowerShown | None) -> str:
    if power is None:
        return ""
    return next((str(n) for n, each in enumerate(power.circuits, start=1) if number in each.numbers), "")
