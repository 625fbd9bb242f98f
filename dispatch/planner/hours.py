"""
What time costs on a route in compact form: lateness, moved promises, overtime, with the break in its best gap.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from dispatch.planner.compact import (
    BREAK,
    BREAK_FROM,
    BREAK_LAST,
    BREAK_OWED,
    DUE,
    EARLY,
    LATE,
    LATE_RATE,
    LATEST,
    MOVED_RATE,
    PROMISED,
    READY,
    SERVICE,
    SOFT,
    UNTIL,
    Ints,
)
from dispatch.planner.jit import kernel

NEVER = 2**50
IMPOSSIBLE = -1
WALL = 2**62


@kernel
def after_break(last: int, from_s: int, long: int, leave: int, drive: int) -> int:
    """The earliest arrival when the break is had between leaving and the next start, NEVER if it cannot be."""
    return NEVER if leave > last else max(leave + drive, from_s) + long


@kernel
def soonest_end(
    seconds: Ints,
    visit: Ints,
    crew: Ints,
    node: NDArray[np.int32],
    c: int,
    first: int,
    stops: int,
    start_owed: int,
    start_had: int,
) -> tuple[int, int]:
    """
    When the crew can be back at the earliest, from its arrivals at position ``first``; NEVER if it cannot.

    And what lateness and moved promises from there on cost at least.

    :param start_owed: the arrival with the break still owed, ``start_had`` with it had; NEVER where impossible.
    """
    last, from_s, long = crew[c, BREAK_LAST], crew[c, BREAK_FROM], crew[c, BREAK]
    price = 0
    for i in range(first, stops + 1):
        v = node[c, i]
        early, late, service = visit[v, EARLY], visit[v, LATE], visit[v, SERVICE]
        drive = seconds[v, node[c, i + 1]]
        start_had, start_owed = max(start_had, early), max(start_owed, early)
        if visit[v, SOFT] > 0:
            price += least_price(visit, v, min(start_had, start_owed))
        had = start_had + service if start_had <= late else NEVER
        owed = start_owed + service if start_owed <= late else NEVER
        start_had, start_owed = had + drive, owed + drive
        if owed < NEVER:
            start_had = min(start_had, after_break(last, from_s, long, owed, drive))
    if start_owed <= crew[c, BREAK_OWED]:
        start_had = min(start_had, start_owed)
    return (start_had if start_had <= crew[c, LATEST] else NEVER), price


@kernel
def least_price(visit: Ints, v: int, start: int) -> int:
    """What lateness and a moved promise cost at a stop that cannot start before ``start``."""
    late: int = visit[v, LATE_RATE] * max(0, start - visit[v, DUE])
    moved: int = visit[v, MOVED_RATE] * max(0, start - visit[v, PROMISED])
    return late + moved


@kernel
def soft_price(
    seconds: Ints, visit: Ints, crew: Ints, node: NDArray[np.int32], c: int, stops: int, rate: int, limit: int
) -> int:
    """
    Lateness, moved promises and overtime of the best schedule of a row of nodes; IMPOSSIBLE if there is none.

    :param limit: once no schedule can cost less, any price from it on may be answered.
    """
    best = price_with_break(seconds, visit, crew, node, c, stops, rate, -1, limit)
    if crew[c, BREAK] > 0:
        for gap in range(stops + 1):
            price = price_with_break(seconds, visit, crew, node, c, stops, rate, gap, limit)
            if price != IMPOSSIBLE and (best == IMPOSSIBLE or price < best):
                best = price
                limit = min(limit, best)
    return best


@kernel
def price_with_break(
    seconds: Ints, visit: Ints, crew: Ints, node: NDArray[np.int32], c: int, stops: int, rate: int, gap: int, limit: int
) -> int:
    """As ``soft_price``, with the break between positions ``gap`` and ``gap + 1``; -1 for none."""
    at = crew[c, READY]
    price = 0
    early_bird = False
    last, from_s, long = crew[c, BREAK_LAST], crew[c, BREAK_FROM], crew[c, BREAK]
    if gap == 0 and at > last:
        return IMPOSSIBLE
    for i in range(1, stops + 2):
        v = node[i]
        at += seconds[node[i - 1], v]
        if i == gap + 1:
            at = max(at, from_s) + long
        if i > stops:
            break
        at = max(at, visit[v, EARLY])
        if at > visit[v, LATE]:
            return IMPOSSIBLE
        if visit[v, LATE_RATE] > 0:
            price += visit[v, LATE_RATE] * max(0, at - visit[v, DUE])
            if price >= limit and not early_bird:
                return limit
        if visit[v, MOVED_RATE] > 0:
            price += visit[v, MOVED_RATE] * abs(at - visit[v, PROMISED])
            early_bird = early_bird or at < visit[v, PROMISED]
        at += visit[v, SERVICE]
        if i == gap and at > last:
            return IMPOSSIBLE
    if at > crew[c, LATEST] or (gap < 0 and long > 0 and at > crew[c, BREAK_OWED]):
        return IMPOSSIBLE
    if early_bird:
        return waiting_price(seconds, visit, crew, node, c, stops, rate, gap)
    whole: int = price + rate * max(0, at - crew[c, UNTIL])
    return whole


@kernel
def rise(hinge: Ints, held: int, from_s: int, weight: int) -> tuple[int, int]:
    """Add a cost rising by ``weight`` from ``from_s`` on; returns the hinges held and what the minimum rose by."""
    left, moved, price = weight, 0, 0
    while left > 0 and held > 0 and hinge[held - 1, 0] > from_s:
        taken = min(left, hinge[held - 1, 1])
        price += taken * (hinge[held - 1, 0] - from_s)
        left -= taken
        moved += taken
        hinge[held - 1, 1] -= taken
        if hinge[held - 1, 1] == 0:
            held -= 1
    return (put(hinge, held, from_s, moved) if moved > 0 else held), price


@kernel
def put(hinge: Ints, held: int, at_s: int, weight: int) -> int:
    """Put a hinge in its place; the cost falls by ``weight`` a second until ``at_s``."""
    i = held
    while i > 0 and hinge[i - 1, 0] > at_s:
        hinge[i, 0], hinge[i, 1] = hinge[i - 1, 0], hinge[i - 1, 1]
        i -= 1
    hinge[i, 0], hinge[i, 1] = at_s, weight
    return held + 1


@kernel
def waiting_price(
    seconds: Ints, visit: Ints, crew: Ints, node: NDArray[np.int32], c: int, stops: int, rate: int, gap: int
) -> int:
    """
    As ``price_with_break`` where it may pay to wait for a promised start; the earliest schedule is known to hold.

    The least cost as a function of the latest start so far is convex and never rises, so its falling hinges say it
    all. A late bound is a rise steeper than any price; the earliest start is a hinge that no price wears down.
    """
    hinge = np.empty((6 * stops + 12, 2), dtype=np.int64)
    held, price, soonest, service = 0, 0, crew[c, READY], 0
    for i in range(1, stops + 2):
        v = node[i]
        after = service + seconds[node[i - 1], v] + (crew[c, BREAK] if i == gap + 1 else 0)
        soonest += after
        if i == gap + 1:
            soonest = max(soonest, crew[c, BREAK_FROM] + crew[c, BREAK])
        for h in range(held):
            hinge[h, 0] += after
        if i > stops:
            break
        soonest = max(soonest, visit[v, EARLY])
        held = put(hinge, held, soonest, WALL)
        service = visit[v, SERVICE]
        if visit[v, MOVED_RATE] > 0:
            held = put(hinge, held, visit[v, PROMISED], visit[v, MOVED_RATE])
            held, more = rise(hinge, held, visit[v, PROMISED], visit[v, MOVED_RATE])
            price += more
        if visit[v, LATE_RATE] > 0:
            held, more = rise(hinge, held, visit[v, DUE], visit[v, LATE_RATE])
            price += more
        late = visit[v, LATE]
        if i == gap:
            late = min(late, crew[c, BREAK_LAST] - service)
        held, more = rise(hinge, held, late, WALL)
        price += more
    held = put(hinge, held, soonest, WALL)
    held, more = rise(hinge, held, crew[c, UNTIL], rate)
    price += more
    latest = crew[c, LATEST]
    if gap < 0 and crew[c, BREAK] > 0:
        latest = min(latest, crew[c, BREAK_OWED])
    held, more = rise(hinge, held, latest, WALL)
    return price + more
