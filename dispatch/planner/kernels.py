"""
Exact arithmetic on routes in compact form: the compiled twin of ``schedule`` and ``cost``.

A route is a row of nodes: the crew's anchor, its stops, its end. Beside every position stands what an insertion there
needs to know: the earliest leaving and the latest start, each with the break still owed and with the break had.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from dispatch.planner.compact import (
    ANCHOR,
    BALANCE,
    BEGUN,
    BREAK,
    BREAK_FROM,
    BREAK_LAST,
    BREAK_OWED,
    CAPACITY,
    DRIVE_LIMIT,
    DRIVEN,
    DUE,
    EARLY,
    END,
    FIXED,
    IDLE,
    LATE,
    LATE_RATE,
    LATEST,
    MOVED_RATE,
    PEAK,
    PROMISED,
    READY,
    SERVICE,
    SKIP,
    SOFT,
    SPENT,
    TAKEN_OFF,
    UNTIL,
    Day,
    Ints,
)
from dispatch.planner.jit import kernel

# What stands beside a position: earliest leaving with the break owed / had, latest start likewise within
# ``at_latest``, latest start likewise without overtime, and the price of the arc to the next node.
LEAVE_OWED, LEAVE_HAD, LATEST_OWED, LATEST_HAD, PAID_OWED, PAID_HAD, NEXT_ARC = range(7)
TIME_COLUMNS = 7
# The row of totals of a route.
STOPS, DRIVE, COST, SOFT_STOPS, TIME_COST = range(5)
ROUTE_COLUMNS = 5
NEVER = 2**50
IMPOSSIBLE = -1
WALL = 2**62


class State(NamedTuple):
    """A set of routes: ``l`` is the longest route plus two. ``at`` gives crew and position, -1 where left out."""

    node: NDArray[np.int32]  # c x l
    time: Ints  # c x l x TIME_COLUMNS
    peak: Ints  # c x l x 2 x k: the highest load up to, and from, each position
    route: Ints  # c x ROUTE_COLUMNS
    at: NDArray[np.int32]  # m x 2
    total: Ints  # 1: the cost of everything, with what is left out


def empty_state(day: Day) -> State:
    """Every crew as it stands, every visit left out. Call ``refresh`` for each crew before use."""
    m, c, k = len(day.visit), len(day.crew), day.load.shape[2]
    state = State(
        node=np.zeros((c, m + 2), dtype=np.int32),
        time=np.zeros((c, m + 2, TIME_COLUMNS), dtype=np.int64),
        peak=np.zeros((c, m + 2, 2, k), dtype=np.int64),
        route=np.zeros((c, ROUTE_COLUMNS), dtype=np.int64),
        at=np.full((m, 2), -1, dtype=np.int32),
        total=np.zeros(1, dtype=np.int64),
    )
    state.node[:, 0] = day.crew[:, ANCHOR]
    state.node[:, 1] = day.crew[:, END]
    return state


@kernel
def after_break(last: int, from_s: int, long: int, leave: int, drive: int) -> int:
    """The earliest arrival when the break is had between leaving and the next start, NEVER if it cannot be."""
    return NEVER if leave > last else max(leave + drive, from_s) + long


@kernel
def forward(seconds: Ints, visit: Ints, crew: Ints, node: NDArray[np.int32], time: Ints, c: int, stops: int) -> None:
    """Earliest leaving at every position."""
    last, from_s, long = crew[c, BREAK_LAST], crew[c, BREAK_FROM], crew[c, BREAK]
    owed, had = (crew[c, READY], NEVER) if long > 0 else (NEVER, crew[c, READY])
    time[c, 0, LEAVE_OWED], time[c, 0, LEAVE_HAD] = owed, had
    for i in range(1, stops + 1):
        v = node[c, i]
        drive = seconds[node[c, i - 1], v]
        early, late, service = visit[v, EARLY], visit[v, LATE], visit[v, SERVICE]
        start = had + drive
        if owed < NEVER:
            start = min(start, after_break(last, from_s, long, owed, drive))
        start = max(start, early)
        had = start + service if start <= late else NEVER
        start = max(owed + drive, early)
        owed = start + service if start <= late else NEVER
        time[c, i, LEAVE_OWED], time[c, i, LEAVE_HAD] = owed, had


@kernel
def backward(
    seconds: Ints,
    visit: Ints,
    crew: Ints,
    node: NDArray[np.int32],
    time: Ints,
    c: int,
    stops: int,
    limit: int,
    column: int,
) -> None:
    """Latest start at every position so that the crew is back by ``limit``, into ``column`` and the one after it."""
    last, from_s, long = crew[c, BREAK_LAST], crew[c, BREAK_FROM], crew[c, BREAK]
    had = limit
    owed = min(limit, crew[c, BREAK_OWED])
    time[c, stops + 1, column], time[c, stops + 1, column + 1] = owed, had
    for i in range(stops, 0, -1):
        v = node[c, i]
        drive = seconds[v, node[c, i + 1]]
        early, late, service = visit[v, EARLY], visit[v, LATE], visit[v, SERVICE]
        leave = owed - drive
        if long > 0 and had >= from_s + long:
            leave = max(leave, min(last, had - drive - long))
        owed = min(late, leave - service)
        if owed < early:
            owed = -NEVER
        had = min(late, had - drive - service)
        if had < early:
            had = -NEVER
        time[c, i, column], time[c, i, column + 1] = owed, had


@kernel
def loads(load: Ints, deliver: Ints, collect: Ints, node: NDArray[np.int32], peak: Ints, c: int, stops: int) -> bool:
    """The highest load up to and from every position; whether everything fits."""
    fits = True
    for k in range(load.shape[2]):
        aboard = load[c, TAKEN_OFF, k]
        for i in range(1, stops + 1):
            aboard += deliver[node[c, i], k]
        highest = aboard + load[c, PEAK, k]
        aboard += load[c, BALANCE, k]
        peak[c, 0, 0, k], peak[c, 0, 1, k] = highest, aboard
        for i in range(1, stops + 1):
            aboard += collect[node[c, i], k] - deliver[node[c, i], k]
            highest = max(highest, aboard)
            peak[c, i, 0, k], peak[c, i, 1, k] = highest, aboard
        for i in range(stops - 1, -1, -1):
            peak[c, i, 1, k] = max(peak[c, i, 1, k], peak[c, i + 1, 1, k])
        fits = fits and highest <= load[c, CAPACITY, k]
    return fits


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
) -> int:
    """
    When the crew can be back at the earliest, from its arrivals at position ``first``; NEVER if it cannot.

    :param start_owed: the arrival with the break still owed, ``start_had`` with it had; NEVER where impossible.
    """
    last, from_s, long = crew[c, BREAK_LAST], crew[c, BREAK_FROM], crew[c, BREAK]
    for i in range(first, stops + 1):
        v = node[c, i]
        early, late, service = visit[v, EARLY], visit[v, LATE], visit[v, SERVICE]
        drive = seconds[v, node[c, i + 1]]
        start_had, start_owed = max(start_had, early), max(start_owed, early)
        had = start_had + service if start_had <= late else NEVER
        owed = start_owed + service if start_owed <= late else NEVER
        start_had, start_owed = had + drive, owed + drive
        if owed < NEVER:
            start_had = min(start_had, after_break(last, from_s, long, owed, drive))
    if start_owed <= crew[c, BREAK_OWED]:
        start_had = min(start_had, start_owed)
    return start_had if start_had <= crew[c, LATEST] else NEVER


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


@kernel
def refresh(day: Day, state: State, c: int) -> bool:
    """Work out everything about one route anew from its nodes; whether it holds."""
    # Arrays by name: taking them from the tuple inside a loop would count references at every step.
    seconds, arc, visit, crew, assign = day.seconds, day.arc, day.visit, day.crew, day.assign
    node, time, route, at = state.node, state.time, state.route, state.at
    stops = route[c, STOPS]
    forward(seconds, visit, crew, node, time, c, stops)
    backward(seconds, visit, crew, node, time, c, stops, crew[c, LATEST], LATEST_OWED)
    backward(seconds, visit, crew, node, time, c, stops, crew[c, UNTIL], PAID_OWED)
    fits = loads(day.load, day.deliver, day.collect, node, state.peak, c, stops)
    cost, drive, soft = crew[c, SPENT], crew[c, DRIVEN], 0
    for i in range(stops + 1):
        a, b = node[c, i], node[c, i + 1]
        time[c, i, NEXT_ARC] = arc[a, b]
        cost += arc[a, b]
        drive += seconds[a, b]
        if i > 0:
            cost += assign[a, c]
            soft += visit[a, SOFT] > 0
            at[a, 0], at[a, 1] = c, i
    route[c, DRIVE], route[c, SOFT_STOPS], route[c, TIME_COST] = drive, soft, 0
    begun = crew[c, BEGUN] > 0
    if stops == 0:
        # What has begun is a fact and holds by itself.
        route[c, COST] = crew[c, IDLE]
        route[c, TIME_COST] = crew[c, IDLE] - cost
        if not begun:
            # A crew that stays home costs nothing, so its first stop pays both arcs and the fixed price.
            time[c, 0, NEXT_ARC] = -crew[c, FIXED]
            route[c, DRIVE], route[c, TIME_COST] = 0, 0
        return True
    if not begun:
        cost += crew[c, FIXED]
    if soft > 0:
        price = soft_price(seconds, visit, crew, node[c], c, stops, day.overtime_rate, NEVER)
    else:
        price = soonest_price(day, time, node, c, stops)
    route[c, TIME_COST] = max(0, price)
    route[c, COST] = cost + max(0, price)
    return fits and price != IMPOSSIBLE and drive <= crew[c, DRIVE_LIMIT]


@kernel
def soonest_price(day: Day, time: Ints, node: NDArray[np.int32], c: int, stops: int) -> int:
    """What overtime costs on a route whose leavings are known; IMPOSSIBLE if it cannot be held."""
    crew = day.crew
    drive = day.seconds[node[c, stops], node[c, stops + 1]]
    owed, had = time[c, stops, LEAVE_OWED], time[c, stops, LEAVE_HAD]
    end = had + drive
    if owed < NEVER:
        end = min(end, after_break(crew[c, BREAK_LAST], crew[c, BREAK_FROM], crew[c, BREAK], owed, drive))
        if owed + drive <= crew[c, BREAK_OWED]:
            end = min(end, owed + drive)
    if end > crew[c, LATEST]:
        return IMPOSSIBLE
    price: int = day.overtime_rate * max(0, end - crew[c, UNTIL])
    return price


@kernel
def refresh_all(day: Day, state: State) -> bool:
    """Work out every route and the total anew; whether all of it holds."""
    sound = True
    state.at[:, :] = -1
    total = 0
    for c in range(len(day.crew)):
        sound = refresh(day, state, c) and sound
        total += state.route[c, COST]
    for v in range(len(day.visit)):
        if state.at[v, 0] < 0:
            total += day.visit[v, SKIP]
    state.total[0] = total
    return sound
