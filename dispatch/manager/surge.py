"""
What stock and crews can serve when more calls come than a night was made for: numbers in, suggestions out.

A stabilizing set is what one stabilizing visit takes (rule data). People set the limit on the first day, equipment by
the third; both are shown, and the smaller one counts.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil

AIR_MOVERS, DEHUMIDIFIERS = "air movers", "dehumidifiers"
# How the sizing port's kinds serve a set.
KINDS: Mapping[str, tuple[str, ...]] = {
    AIR_MOVERS: ("air_mover",),
    DEHUMIDIFIERS: ("lgr", "conventional"),
}


@dataclass(frozen=True)
class SetRule:
    """What one stabilizing visit takes, how long it takes with its drive, and what percentage of all is kept back."""

    units: Mapping[str, int]
    minutes: int
    drive_minutes: int
    reserve_percent: int

    def usable(self, free: int, stock: int) -> int:
        """Of what is free, what may be given beyond the reserve; nothing where promises are above stock."""
        return max(0, free - ceil(max(0, stock) * self.reserve_percent / 100))


@dataclass(frozen=True)
class Base:
    """One warehouse: all that can work and what is free, hour by hour, by part of the set; the callers near it."""

    name: str
    stock: Mapping[str, int]
    free: Mapping[str, Sequence[int]]
    waiting: int


@dataclass(frozen=True)
class Capacity:
    """How many stabilizing visits can be served: by equipment, by people; and which part of the set ends first."""

    by_equipment: int
    scarcest: str
    by_people: int

    @property
    def served(self) -> int:
        """The smaller of both."""
        return min(self.by_equipment, self.by_people)


@dataclass(frozen=True)
class Transfer:
    """Bring so many units from one warehouse to another."""

    part: str
    count: int
    source: str
    to: str


@dataclass(frozen=True)
class RunsOut:
    """When a part of the set runs out, in whole hours from now; None: not within the hours looked at."""

    part: str
    in_hours: int | None
    rent: int


def capacity(bases: Sequence[Base], crew_hours: Sequence[float], rule: SetRule) -> Capacity:
    """What can be served now. `crew_hours`: what each crew that may go has left."""
    sets = {part: _usable(bases, part, 0, rule) // per for part, per in rule.units.items()}
    scarcest = min(sets, key=lambda part: (sets[part], part))
    each = rule.minutes + rule.drive_minutes
    return Capacity(sets[scarcest], scarcest, sum(int(max(0.0, hours) * 60 // each) for hours in crew_hours))


def transfers(bases: Sequence[Base], rule: SetRule) -> tuple[Transfer, ...]:
    """From where most is over to where callers wait and too little is free, the largest gap first."""
    found = []
    for part, per in rule.units.items():
        over = {base.name: rule.usable(base.free[part][0], base.stock[part]) - per * base.waiting for base in bases}
        for name in sorted(over, key=lambda name: (over[name], name)):
            while over[name] < 0:
                giver = max(over, key=lambda other: (over[other], other))
                count = min(over[giver], -over[name])
                if count <= 0:
                    break
                found.append(Transfer(part, count, giver, name))
                over[giver] -= count
                over[name] += count
    return tuple(found)


def runs_out(bases: Sequence[Base], rule: SetRule, calls_an_hour: float) -> tuple[RunsOut, ...]:
    """When each part ends if calls go on at this rate, and how many units rented would last to the end of the hours."""
    waiting = sum(base.waiting for base in bases)
    found = []
    for part, per in rule.units.items():
        hours = min(len(base.free[part]) for base in bases) if bases else 0
        gaps = [per * (waiting + int(calls_an_hour * hour)) - _usable(bases, part, hour, rule) for hour in range(hours)]
        first = next((hour for hour, gap in enumerate(gaps) if gap > 0), None)
        found.append(RunsOut(part, first, max([0, *gaps])))
    return tuple(found)


def _usable(bases: Sequence[Base], part: str, hour: int, rule: SetRule) -> int:
    return sum(rule.usable(base.free[part][hour], base.stock[part]) for base in bases)
