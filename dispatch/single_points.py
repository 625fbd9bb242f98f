"""Single points of failure tonight: work that one crew alone can do, by state, and equipment with one unit left."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Protocol
from zoneinfo import ZoneInfo

from dispatch import agreed, crew_facts, outfit
from dispatch.crew_facts import CrewRow
from dispatch.models import Card, Crew
from dispatch.rota.nights import NightHours, tonight
from dispatch.rules import figure, requirements
from equipment.free_stock import free_pools
from equipment.models import Warehouse
from jobs.models import Area

WORDS = {
    "water": "water lead",
    "structural_drying": "structural drying lead",
    "microbial": "microbial lead",
    "lead_safe": "lead-safe renovator",
    "asbestos": "asbestos crew",
    "site": "lead with a site badge",
    "heavy_vehicle": "crew for a heavy vehicle",
}
STATE_NAMES = {"OR": "Oregon", "WA": "Washington", "ID": "Idaho", "CA": "California", "NV": "Nevada"}


@dataclass(frozen=True)
class Able:
    """A crew that may do the work: its name, its lead, and until when the pair may work."""

    crew_id: int
    crew: str
    lead: str
    until: datetime


@dataclass(frozen=True)
class Coverage:
    """Who may do one kind of work in one state tonight."""

    work: str
    state: str
    crews: tuple[Able, ...]
    zone: ZoneInfo


class HasFree(Protocol):
    """So many free units of one kind, at one place or of one model."""

    @property
    def kind(self) -> str: ...
    @property
    def total(self) -> int: ...


@dataclass(frozen=True)
class Free:
    """Free units of one kind at one place."""

    kind: str
    total: int


@dataclass(frozen=True)
class SinglePoint:
    """One thing on which the night hangs: `left` is 1 or 0, `said` tells it as the desk would."""

    kind: str
    what: str
    state: str
    left: int
    who: str
    until: datetime | None
    said: str


def single_points(*, area: Area, now: datetime) -> tuple[SinglePoint, ...]:
    """What hangs on one crew or one unit tonight; what is missing altogether first. For the board and for managers."""
    rows = crew_facts.rows_of(crews_of_night(area, tonight(area, now), now=now), now=now)
    places = Warehouse.objects.filter(area=area).values_list("holder__pk", flat=True)
    starts_at, _ = outfit.stay_of(now)
    pools = free_pools(place_ids=list(places), starts_at=starts_at, ends_at=starts_at + timedelta(hours=12))
    units = [Free(pool.kind, pool.free) for pool in pools]
    return single_points_of(rows, units, area=area, now=now)


def single_points_of(
    rows: Sequence[CrewRow], units: Iterable[HasFree], *, area: Area, now: datetime
) -> tuple[SinglePoint, ...]:
    """The same from crews and free units by kind that were read before (2 queries)."""
    lines = [line for line in coverage(rows, area=area, now=now) if len(line.crews) < 2]
    found = [_of_crews(line) for line in lines] + _of_units(units)
    return tuple(sorted(found, key=lambda point: point.left))


def crews_of_night(area: Area, night: NightHours, *, now: datetime) -> list[Crew]:
    """The crews that work for an hour or more of what is left of a night."""
    starts = max(now, night.starts_at)
    hour = min(timedelta(hours=1), max(night.ends_at - starts, timedelta(0)))
    return crew_facts.crews_between(area_id=area.pk, until_after=starts + hour, from_before=night.ends_at - hour)


def coverage(rows: Sequence[CrewRow], *, area: Area, now: datetime) -> tuple[Coverage, ...]:
    """
    For each state and each kind of work that somebody here is trained for: the crews that may do it (2 queries).

    Overrides count for nothing here: they are for one loss.
    """
    staffed = _staffed(area)
    states = sorted({license.state for license in area.licenses.filter(loan=None)})
    works = [work for work in dict.fromkeys(row.work for row in requirements()) if work in staffed]
    found = []
    for work in works:
        by_state = any(row.state for row in requirements() if row.work == work)
        for state in states:
            wanted = (f"{work}:{state}" if by_state else work,)
            task = agreed.Work(wanted, state)
            crews = tuple(_able(row, now) for row in rows if not agreed.reasons(row, task, now=now))
            found.append(Coverage(work, state, crews, area.zone))
    return tuple(found)


def words_of(line: Coverage) -> str:
    """One line of coverage in words, where it is thin."""
    what, where = WORDS.get(line.work, line.work.replace("_", " ")), STATE_NAMES.get(line.state, line.state)
    if not line.crews:
        return f"No {what} in {where} tonight."
    if len(line.crews) == 1:
        (one,) = line.crews
        local = one.until.astimezone(line.zone)
        return f"Only one {what} in {where} tonight: {one.lead} ({one.crew}), rested until {local:%-I:%M %p}."
    return f"{len(line.crews)} crews with a {what} in {where} tonight."


def _staffed(area: Area) -> frozenset[str]:
    """The kinds of work for which somebody here has held each card: nobody misses what the company never does."""
    held = set(Card.objects.filter(person__area=area, person__active=True).values_list("kind", flat=True).distinct())
    wanted: dict[str, set[str]] = {}
    for row in requirements():
        if row.who != "firm":
            wanted.setdefault(row.work, set()).add(row.card)
    return frozenset(work for work, cards in wanted.items() if cards <= held)


def _able(row: CrewRow, now: datetime) -> Able:
    """The pair may work to the crew's end, or until the first of them has been on duty too long."""
    most = timedelta(hours=figure("most_awake_hours"))
    tired = [member.awake_since + most for member in row.facts.members if member.awake_since is not None]
    return Able(row.crew.pk, row.crew.name, row.crew.lead.name, min([row.crew.ends_at, *tired]))


def _of_crews(line: Coverage) -> SinglePoint:
    one = line.crews[0] if line.crews else None
    return SinglePoint(
        kind="work",
        what=line.work,
        state=line.state,
        left=len(line.crews),
        who="" if one is None else f"{one.lead} ({one.crew})",
        until=None if one is None else one.until,
        said=words_of(line),
    )


def _of_units(units: Iterable[HasFree]) -> list[SinglePoint]:
    free: Counter[str] = Counter()
    for line in units:
        free[line.kind] += max(line.total, 0)
    found = []
    for kind in sorted(free):
        if free[kind] < 2:
            what = kind.replace("_", " ")
            said = f"{'Only one' if free[kind] else 'No'} {what} is free in the warehouses."
            found.append(SinglePoint("equipment", kind, "", free[kind], "", None, said))
    return found
