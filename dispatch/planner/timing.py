"""
When to start each stop of a route, exactly: the cheapest starts under windows, due times and promised starts.

Without promises the earliest start is best everywhere. With them it may pay to wait at a door, so the least cost is
carried forward as a convex function of the start time: its left hinges are kept, its right part is flat because
waiting is free. All numbers are whole seconds and whole units of cost, so nothing is ever rounded.
"""

from __future__ import annotations

from bisect import insort
from collections.abc import Sequence
from typing import NamedTuple

# Stands for "at any price"; larger than any problem's total cost.
BARRIER = 2**62
NEVER_S = 2**40


class Leg(NamedTuple):
    """
    One stop as the timing sees it.

    ``after_s`` is the least time from the start of the stop before (from 0 for the first) to this start;
    ``early_s``..``late_s`` are the starts allowed, both included.
    """

    after_s: int
    early_s: int
    late_s: int
    due_s: int = 0
    per_late_second: int = 0
    promised_s: int = 0
    per_moved_second: int = 0

    def within(self, after_s: int, early_s: int, late_s: int) -> Leg:
        """The same stop with other times around it. Called for every gap of every route, so it copies by hand."""
        return Leg(after_s, early_s, late_s, self.due_s, self.per_late_second, self.promised_s, self.per_moved_second)


def earliest(legs: Sequence[Leg]) -> list[int] | int:
    """The earliest starts, or the index of the first leg that cannot start in time."""
    starts: list[int] = []
    at_s = 0
    for i, leg in enumerate(legs):
        at_s += leg.after_s
        if at_s < leg.early_s:
            at_s = leg.early_s
        if at_s > leg.late_s:
            return i
        starts.append(at_s)
    return starts


def cheapest(legs: Sequence[Leg]) -> list[int] | int:
    """The starts of least cost, the earliest among equals, or the index of the first leg that cannot start in time."""
    soonest = earliest(legs)
    if isinstance(soonest, int) or all(
        leg.per_moved_second == 0 or at_s >= leg.promised_s for leg, at_s in zip(legs, soonest, strict=True)
    ):
        return soonest
    best: list[int] = []
    hinges: list[tuple[int, int]] = []  # (start, weight), sorted; the cost falls by weight until start, then no more
    for leg, at_s in zip(legs, soonest, strict=True):
        hinges = [(start + leg.after_s, weight) for start, weight in hinges]
        insort(hinges, (at_s, BARRIER))
        if leg.per_moved_second:
            insort(hinges, (leg.promised_s, leg.per_moved_second))
            _rise(hinges, leg.promised_s, leg.per_moved_second)
        if leg.per_late_second:
            _rise(hinges, leg.due_s, leg.per_late_second)
        _rise(hinges, leg.late_s, BARRIER)
        best.append(max(hinges[-1][0], at_s))
    return _walked_back(legs, best)


def _rise(hinges: list[tuple[int, int]], from_s: int, weight: int) -> None:
    """Add a cost rising by ``weight`` a second from ``from_s`` on, and flatten what then rises."""
    left = weight
    moved = 0
    while left and hinges and hinges[-1][0] > from_s:
        start, held = hinges.pop()
        taken = min(left, held)
        if held > taken:
            insort(hinges, (start, held - taken))
        left -= taken
        moved += taken
    if moved:
        insort(hinges, (from_s, moved))


def _walked_back(legs: Sequence[Leg], best: list[int]) -> list[int]:
    starts = best[:]
    for i in range(len(legs) - 2, -1, -1):
        starts[i] = min(best[i], starts[i + 1] - legs[i + 1].after_s)
    return starts
