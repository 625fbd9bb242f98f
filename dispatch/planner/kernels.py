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
def forward(day: Day, state: State, c: int) -> None:
    """Earliest leaving at every position."""
    node, time = state.node[c], state.time[c]
    stops = state.route[c, STOPS]
    last, from_s, long = day.crew[c, BREAK_LAST], day.crew[c, BREAK_FROM], day.crew[c, BREAK]
    owed = long > 0
    ready = day.crew[c, READY]
    time[0, LEAVE_OWED] = ready if owed else NEVER
    time[0, LEAVE_HAD] = NEVER if owed else ready
    for i in range(1, stops + 1):
        v = node[i]
        drive = day.seconds[node[i - 1], v]
        without, had = time[i - 1, LEAVE_OWED], time[i - 1, LEAVE_HAD]
        start = had + drive
        if without < NEVER:
            start = min(start, after_break(last, from_s, long, without, drive))
        start = max(start, day.visit[v, EARLY])
        time[i, LEAVE_HAD] = start + day.visit[v, SERVICE] if start <= day.visit[v, LATE] else NEVER
        start = max(without + drive, day.visit[v, EARLY])
        time[i, LEAVE_OWED] = start + day.visit[v, SERVICE] if start <= day.visit[v, LATE] else NEVER


@kernel
def backward_to(day: Day, state: State, c: int, limit: int, column: int) -> None:
    """Latest start at every position so that the crew is back by ``limit``, into ``column`` and the one after it."""
    node, time = state.node[c], state.time[c]
    stops = state.route[c, STOPS]
    last, from_, long = day.crew[c, BREAK_LAST], day.crew[c, BREAK_FROM], day.crew[c, BREAK]
    had = limit
    owed = min(limit, day.crew[c, BREAK_OWED])
    time[stops + 1, column] = owed
    time[stops + 1, column + 1] = had
    for i in range(stops, 0, -1):
        v = node[i]
        drive = day.seconds[v, node[i + 1]]
        leave = owed - drive
        if had >= from_ + long:
            leave = max(leave, min(last, had - drive - long))
        early, late, service = day.visit[v, EARLY], day.visit[v, LATE], day.visit[v, SERVICE]
        owed = min(late, leave - service)
        if owed < early:
            owed = -NEVER
        had = min(late, had - drive - service)
        if had < early:
            had = -NEVER
        time[i, column] = owed
        time[i, column + 1] = had


@kernel
def loads(day: Day, state: State, c: int) -> bool:
    """The highest load up to and from every position; whether everything fits."""
    node, peak = state.node[c], state.peak[c]
    stops = state.route[c, STOPS]
    fits = True
    for k in range(day.load.shape[2]):
        aboard = day.load[c, TAKEN_OFF, k]
        for i in range(1, stops + 1):
            aboard += day.deliver[node[i], k]
        highest = aboard + day.load[c, PEAK, k]
        aboard += day.load[c, BALANCE, k]
        peak[0, 0, k] = highest
        peak[0, 1, k] = aboard
        for i in range(1, stops + 1):
            aboard += day.collect[node[i], k] - day.deliver[node[i], k]
            highest = max(highest, aboard)
            peak[i, 0, k] = highest
            peak[i, 1, k] = aboard
        for i in range(stops - 1, -1, -1):
            peak[i, 1, k] = max(peak[i, 1, k], peak[i + 1, 1, k])
        fits = fits and highest <= day.load[c, CAPACITY, k]
    return fits


@kernel
def soonest_end(day: Day, c: int, node: NDArray[np.int32], stops: int) -> int:
    """When the crew can be back at the earliest; NEVER if the route cannot be held at all."""
    last, from_s, long = day.crew[c, BREAK_LAST], day.crew[c, BREAK_FROM], day.crew[c, BREAK]
    owed = long > 0
    without = day.crew[c, READY] if owed else NEVER
    had = NEVER if owed else day.crew[c, READY]
    for i in range(1, stops + 2):
        v = node[i]
        drive = day.seconds[node[i - 1], v]
        start = had + drive
        if without < NEVER:
            start = min(start, after_break(last, from_s, long, without, drive))
        start_owed = without + drive
        if i <= stops:
            start, start_owed = max(start, day.visit[v, EARLY]), max(start_owed, day.visit[v, EARLY])
            late, service = day.visit[v, LATE], day.visit[v, SERVICE]
            had = start + service if start <= late else NEVER
            without = start_owed + service if start_owed <= late else NEVER
            if had >= NEVER and without >= NEVER:
                return NEVER
        else:
            had, without = start, start_owed
    end = had
    if without <= day.crew[c, BREAK_OWED]:
        end = min(end, without)
    return end if end <= day.crew[c, LATEST] else NEVER


@kernel
def time_price(day: Day, c: int, node: NDArray[np.int32], stops: int, soft: int) -> int:
    """Lateness, moved promises and overtime of the best schedule of a route; IMPOSSIBLE if there is none."""
    if not soft:
        end = soonest_end(day, c, node, stops)
        if end >= NEVER:
            return IMPOSSIBLE
        overtime: int = day.overtime_rate * max(0, end - day.crew[c, UNTIL])
        return overtime
    best = soft_price(day, c, node, stops, -1)
    if day.crew[c, BREAK] > 0:
        for gap in range(stops + 1):
            price = soft_price(day, c, node, stops, gap)
            if price != IMPOSSIBLE and (best == IMPOSSIBLE or price < best):
                best = price
    return best


@kernel
def soft_price(day: Day, c: int, node: NDArray[np.int32], stops: int, gap: int) -> int:
    """As ``time_price``, with the break between positions ``gap`` and ``gap + 1``; -1 for none."""
    crew = day.crew[c]
    at = crew[READY]
    price = 0
    early_bird = False
    if gap == 0 and at > crew[BREAK_LAST]:
        return IMPOSSIBLE
    for i in range(1, stops + 2):
        v = node[i]
        at += day.seconds[node[i - 1], v]
        if i == gap + 1:
            at = max(at, crew[BREAK_FROM]) + crew[BREAK]
        if i > stops:
            break
        at = max(at, day.visit[v, EARLY])
        if at > day.visit[v, LATE]:
            return IMPOSSIBLE
        price += day.visit[v, LATE_RATE] * max(0, at - day.visit[v, DUE])
        if day.visit[v, MOVED_RATE] > 0:
            price += day.visit[v, MOVED_RATE] * abs(at - day.visit[v, PROMISED])
            early_bird = early_bird or at < day.visit[v, PROMISED]
        at += day.visit[v, SERVICE]
        if i == gap and at > crew[BREAK_LAST]:
            return IMPOSSIBLE
    if at > crew[LATEST] or (gap < 0 and crew[BREAK] > 0 and at > crew[BREAK_OWED]):
        return IMPOSSIBLE
    if early_bird:
        return waiting_price(day, c, node, stops, gap)
    whole: int = price + day.overtime_rate * max(0, at - crew[UNTIL])
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
def waiting_price(day: Day, c: int, node: NDArray[np.int32], stops: int, gap: int) -> int:
    """
    As ``soft_price`` where it may pay to wait for a promised start; the earliest schedule is known to hold.

    The least cost as a function of the latest start so far is convex and never rises, so its falling hinges say it
    all. A late bound is a rise steeper than any price; the earliest start is a hinge that no price wears down.
    """
    crew = day.crew[c]
    hinge = np.empty((6 * stops + 12, 2), dtype=np.int64)
    held, price, soonest, service = 0, 0, crew[READY], 0
    for i in range(1, stops + 2):
        v = node[i]
        after = service + day.seconds[node[i - 1], v] + (crew[BREAK] if i == gap + 1 else 0)
        soonest += after
        if i == gap + 1:
            soonest = max(soonest, crew[BREAK_FROM] + crew[BREAK])
        for h in range(held):
            hinge[h, 0] += after
        if i > stops:
            break
        soonest = max(soonest, day.visit[v, EARLY])
        held = put(hinge, held, soonest, WALL)
        service = day.visit[v, SERVICE]
        if day.visit[v, MOVED_RATE] > 0:
            held = put(hinge, held, day.visit[v, PROMISED], day.visit[v, MOVED_RATE])
            held, more = rise(hinge, held, day.visit[v, PROMISED], day.visit[v, MOVED_RATE])
            price += more
        if day.visit[v, LATE_RATE] > 0:
            held, more = rise(hinge, held, day.visit[v, DUE], day.visit[v, LATE_RATE])
            price += more
        late = day.visit[v, LATE]
        if i == gap:
            late = min(late, crew[BREAK_LAST] - service)
        held, more = rise(hinge, held, late, WALL)
        price += more
    held = put(hinge, held, soonest, WALL)
    held, more = rise(hinge, held, crew[UNTIL], day.overtime_rate)
    price += more
    latest = crew[LATEST]
    if gap < 0 and crew[BREAK] > 0:
        latest = min(latest, crew[BREAK_OWED])
    held, more = rise(hinge, held, latest, WALL)
    return price + more


@kernel
def refresh(day: Day, state: State, c: int) -> bool:
    """Work out everything about one route anew from its nodes; whether it holds."""
    node, route, time = state.node[c], state.route[c], state.time[c]
    stops = route[STOPS]
    forward(day, state, c)
    backward_to(day, state, c, day.crew[c, LATEST], LATEST_OWED)
    backward_to(day, state, c, day.crew[c, UNTIL], PAID_OWED)
    fits = loads(day, state, c)
    cost, drive, soft = day.crew[c, SPENT], day.crew[c, DRIVEN], 0
    for i in range(stops + 1):
        a, b = node[i], node[i + 1]
        time[i, NEXT_ARC] = day.arc[a, b]
        cost += day.arc[a, b]
        drive += day.seconds[a, b]
        if i > 0:
            cost += day.assign[a, c]
            soft += day.visit[a, SOFT] > 0
            state.at[a, 0], state.at[a, 1] = c, i
    route[DRIVE], route[SOFT_STOPS], route[TIME_COST] = drive, soft, 0
    if stops == 0:
        # What has begun is a fact and holds by itself.
        route[COST] = day.crew[c, IDLE]
        route[TIME_COST] = day.crew[c, IDLE] - cost
        if day.crew[c, BEGUN] == 0:
            # A crew that stays home costs nothing, so its first stop pays both arcs and the fixed price.
            time[0, NEXT_ARC] = -day.crew[c, FIXED]
            route[DRIVE], route[TIME_COST] = 0, 0
        return True
    if day.crew[c, BEGUN] == 0:
        cost += day.crew[c, FIXED]
    price = time_price(day, c, node, stops, soft)
    route[TIME_COST] = max(0, price)
    route[COST] = cost + max(0, price)
    return fits and price != IMPOSSIBLE and drive <= day.crew[c, DRIVE_LIMIT]


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
