"""
What to change at a job as its readings stand: what to take away, to move, to add, or to think over, with the working.

Equipment is suggested away by a reading at its goal and by nothing else, never by a forecast. The lead decides.
Trade practice throughout: air movers leave a room whose points are at goal, dehumidifiers a chamber that is.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

AIR_MOVER = "air_mover"
# What dries a chamber; what filters or cleans the air, and what powers it, stays for other reasons.
DRYERS = ("conventional", "lgr", "desiccant")
NAMES: Mapping[str, str] = {
    AIR_MOVER: "air mover",
    "conventional": "conventional dehumidifier",
    "lgr": "low-grain dehumidifier",
    "desiccant": "desiccant dehumidifier",
}
Do = Literal["pull", "move", "add", "review"]


@dataclass(frozen=True)
class PointSeen:
    """A material point: its newest value and how much it fell over the hours since the one before, in its scale."""

    number: int
    room: str
    chamber: str
    goal: float
    value: float | None
    fell: float | None = None
    over_h: float | None = None

    @property
    def at_goal(self) -> bool:
        return self.value is not None and self.value <= self.goal

    @property
    def shown(self) -> str:
        """Its value beside its goal."""
        read = "not read" if self.value is None else f"{self.value:g}"
        return f"point {self.number} {read} (goal {self.goal:g})"


@dataclass(frozen=True)
class UnitsStanding:
    """So many units of one kind in one room."""

    kind: str
    room: str
    chamber: str
    count: int


@dataclass(frozen=True)
class Wanted:
    """So many units of one kind wanted in one chamber, and who says so ("the sizing", "the lead")."""

    kind: str
    chamber: str
    count: int
    by: str


@dataclass(frozen=True)
class Advice:
    """One suggestion with the figures that it stands on; `key` is the same as long as it is about the same thing."""

    key: str
    do: Do
    what: str
    working: str


def advise(
    *,
    points: Sequence[PointSeen],
    standing: Sequence[UnitsStanding],
    wanted: Sequence[Wanted],
    no_progress_h: float,
) -> tuple[Advice, ...]:
    """Every suggestion, chamber by chamber; nothing is said of a chamber without a point."""
    found: list[Advice] = []
    for chamber in dict.fromkeys(point.chamber for point in points):
        mine = [point for point in points if point.chamber == chamber]
        here = [units for units in standing if units.chamber == chamber]
        if all(point.at_goal for point in mine):
            found += _pull_all(chamber, mine, here)
            continue
        stuck = [point for point in mine if _stuck(point, no_progress_h)]
        dry_rooms = _dry_rooms(mine)
        found += _from_dry_rooms(mine, here, dry_rooms, stuck)
        found += _missing(chamber, here, [row for row in wanted if row.chamber == chamber], dry_rooms)
        found += (_review(point, no_progress_h) for point in stuck)
    return tuple(found)


def _stuck(point: PointSeen, no_progress_h: float) -> bool:
    long_enough = point.over_h is not None and point.over_h >= no_progress_h
    return not point.at_goal and long_enough and point.fell is not None and point.fell <= 0


def _dry_rooms(points: Sequence[PointSeen]) -> list[str]:
    wet = {point.room for point in points if not point.at_goal}
    return [room for room in dict.fromkeys(point.room for point in points) if room not in wet]


def _pull_all(chamber: str, points: Sequence[PointSeen], here: Sequence[UnitsStanding]) -> Iterator[Advice]:
    counts: Counter[str] = Counter()
    for units in here:
        if units.kind in NAMES:
            counts[units.kind] += units.count
    if counts:
        yield Advice(
            f"pull:{chamber}",
            "pull",
            f"Take away what dries {chamber}: {_many(counts)}.",
            f"Every point is at its goal by reading: {', '.join(point.shown for point in points)}.",
        )


def _from_dry_rooms(
    points: Sequence[PointSeen], here: Sequence[UnitsStanding], dry_rooms: Sequence[str], stuck: Sequence[PointSeen]
) -> Iterator[Advice]:
    """Air movers of rooms at goal go to a room that makes no progress, else away; dehumidifiers stay until the end."""
    for room in dry_rooms:
        count = sum(units.count for units in here if units.room == room and units.kind == AIR_MOVER)
        if not count:
            continue
        shown = ", ".join(point.shown for point in points if point.room == room)
        if stuck:
            yield Advice(
                f"move:{room}",
                "move",
                f"Move {_named(count, AIR_MOVER)} from {room} to {stuck[0].room}.",
                f"{room} is at goal by reading: {shown}; {stuck[0].room} makes no progress: {_fall(stuck[0])}.",
            )
        else:
            yield Advice(
                f"pull:{room}",
                "pull",
                f"Take {_named(count, AIR_MOVER)} away from {room}. The dehumidifiers stay until the chamber is dry.",
                f"{room} is at goal by reading: {shown}.",
            )


def _missing(
    chamber: str, here: Sequence[UnitsStanding], wanted: Sequence[Wanted], dry_rooms: Sequence[str]
) -> Iterator[Advice]:
    if not any(units.kind in NAMES for units in here):
        # Nothing is placed yet: what was brought says what goes there.
        return
    for row in wanted:
        # Where rooms are dry already, fewer air movers are wanted than at the start.
        if row.kind not in NAMES or (row.kind == AIR_MOVER and dry_rooms):
            continue
        stands = sum(units.count for units in here if units.kind == row.kind)
        # One kind of dehumidifier stands in for another; which is enough is for the sizing to say, not for a count.
        others = sum(units.count for units in here if units.kind in DRYERS) if row.kind in DRYERS else 0
        if stands < row.count and others < row.count:
            yield Advice(
                f"add:{row.kind}:{chamber}",
                "add",
                f"Add {_named(row.count - max(stands, others), row.kind)} in {chamber}.",
                f"{row.by.capitalize()} wants {row.count}, {max(stands, others)} stand there, and it is not dry.",
            )


def _review(point: PointSeen, no_progress_h: float) -> Advice:
    return Advice(
        f"review:point {point.number}",
        "review",
        f"No progress in {no_progress_h:g} h at point {point.number}, {point.room}: review the plan.",
        f"{_fall(point)}. Look for water that still comes, a closed cavity, a cold room, a unit that stood still.",
    )


def _fall(point: PointSeen) -> str:
    rose = -(point.fell or 0.0)
    change = "has not changed" if rose == 0 else f"rose {rose:g}"
    return f"{point.shown} {change} in {point.over_h or 0:.0f} h"


def _many(counts: Mapping[str, int]) -> str:
    return ", ".join(_named(count, kind) for kind, count in sorted(counts.items()))


def _named(count: int, kind: str) -> str:
    return f"{count} {NAMES[kind]}{'' if count == 1 else 's'}"
