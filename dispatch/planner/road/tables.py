"""
Asking a road service for only what is not known yet, in pieces it accepts, with the estimate to fall back on.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from threading import Lock
from time import monotonic
from typing import Protocol

from dispatch.planner.problem import LONGEST_M, LONGEST_S, Place, Travel
from dispatch.planner.road import Estimated, Measured, RoadUnavailable, TravelTimes

Point = tuple[float, float]
# Seconds and metres of one drive; null when the service finds no way.
Cell = tuple[int, int] | None

# Five decimals are about a metre: closer than any front door.
DECIMALS = 5


class TableService(Protocol):
    """One request to a routing engine: drives from every source to every target."""

    name: str
    most_points: int

    def table(self, sources: Sequence[Point], targets: Sequence[Point]) -> list[list[Cell]]:
        """
        :raises RoadUnavailable: if no usable answer came in time.
        """


@dataclass
class RoadTimes:
    """
    Road times with a memory for ``keep_s`` seconds, pair by pair: one new address costs one row and one column.

    A drive the service cannot find, and everything when it is away, is estimated, and ``notes`` says so.
    """

    service: TableService
    fallback: TravelTimes = field(default_factory=Estimated)
    keep_s: float = 86_400.0
    most_kept: int = 1_000_000
    clock: Callable[[], float] = monotonic
    _kept: dict[tuple[Point, Point], tuple[float, Cell]] = field(default_factory=dict, repr=False)
    _lock: Lock = field(default_factory=Lock, repr=False)

    def between(self, places: Sequence[Place]) -> Measured:
        estimated = self.fallback.between(places)
        points = [(round(p.lat, DECIMALS), round(p.lon, DECIMALS)) for p in places]
        # Held while asking: two askers with the same question make one request, not two.
        with self._lock:
            try:
                self._learn(list(dict.fromkeys(points)))
            except RoadUnavailable as away:
                note = f"Road times are estimated: {away.why}"
                return Measured(estimated.travel, estimated.source, (*estimated.notes, note))
            return self._measured(points, estimated)

    def _measured(self, points: Sequence[Point], estimated: Measured) -> Measured:
        seconds = [list(row) for row in estimated.travel.seconds]
        meters = [list(row) for row in estimated.travel.meters]
        unreached = 0
        for i, origin in enumerate(points):
            for k, target in enumerate(points):
                if origin == target:
                    seconds[i][k] = meters[i][k] = 0
                    continue
                cell = self._kept[origin, target][1]
                if cell is None:
                    unreached += 1
                else:
                    seconds[i][k], meters[i][k] = cell
        travel = Travel.model_construct(seconds=tuple(map(tuple, seconds)), meters=tuple(map(tuple, meters)))
        if not unreached:
            return Measured(travel, self.service.name)
        note = f"{unreached} drives are estimated: {self.service.name} found no road between these places."
        return Measured(travel, self.service.name, (note,))

    def _learn(self, points: list[Point]) -> None:
        now_s = self.clock()
        if len(self._kept) > self.most_kept:
            self._kept.clear()
        fresh = {pair for pair, (stored_s, _) in self._kept.items() if now_s - stored_s < self.keep_s}
        new = _cover(points, fresh)
        old = [p for p in points if p not in set(new)]
        self._ask(new, points, now_s)
        self._ask(old, new, now_s)

    def _ask(self, sources: Sequence[Point], targets: Sequence[Point], now_s: float) -> None:
        # The engines count sources and targets together.
        size = max(1, self.service.most_points // 2)
        for i in range(0, len(sources), size):
            for k in range(0, len(targets), size):
                some, others = sources[i : i + size], targets[k : k + size]
                table = self.service.table(some, others)
                for a, row in zip(some, table, strict=True):
                    for b, cell in zip(others, row, strict=True):
                        self._kept[a, b] = (now_s, cell)


def _cover(points: Sequence[Point], fresh: set[tuple[Point, Point]]) -> list[Point]:
    """Points whose rows and columns together hold every unknown pair: those with the most unknowns first."""
    lacking = {a: {b for b in points if a != b and ((a, b) not in fresh or (b, a) not in fresh)} for a in points}
    chosen: list[Point] = []
    while any(lacking.values()):
        worst = max(points, key=lambda p: len(lacking[p]))
        chosen.append(worst)
        for other in lacking[worst]:
            lacking[other].discard(worst)
        lacking[worst] = set()
    return chosen


def cell_of(seconds: object, meters: object) -> Cell:
    """
    One drive of an answer, rounded up; null stands for no way.

    :raises RoadUnavailable: if it is no pair of sensible numbers.
    """
    if seconds is None or meters is None:
        return None
    for value, most in ((seconds, LONGEST_S), (meters, LONGEST_M)):
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0 <= value <= most:
            raise RoadUnavailable("the road service answered with a drive that cannot be.")
    assert isinstance(seconds, (int, float)), "checked above"
    assert isinstance(meters, (int, float)), "checked above"
    # Kilometres given in thousandths are whole metres; binary fractions must not make one more of them.
    return math.ceil(round(seconds, 3)), math.ceil(round(meters, 3))


def rows_of(table: object, sources: int, targets: int) -> list[list[object]]:
    """
    A table of an answer, with its shape checked.

    :raises RoadUnavailable: if it is not ``sources`` rows of ``targets`` cells.
    """
    if not isinstance(table, list) or len(table) != sources:
        raise RoadUnavailable("the road service answered with a table of another size than asked for.")
    for row in table:
        if not isinstance(row, list) or len(row) != targets:
            raise RoadUnavailable("the road service answered with a table of another size than asked for.")
    return table
