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
    EARLY,
    END,
    FIXED,
    IDLE,
    LATE,
    LATEST,
    PEAK,
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
from dispatch.planner.hours import IMPOSSIBLE, NEVER, after_break, soft_price
from dispatch.planner.jit import kernel

# What stands beside a position: earliest leaving with the break owed / had, latest start likewise within
# ``at_latest``, latest start likewise without overtime, and the price of the arc to the next node.
LEAVE_OWED, LEAVE_HAD, LATEST_OWED, LATEST_HAD, PAID_OWED, PAID_HAD, NEXT_ARC = range(7)
TIME_COLUMNS = 7
# The row of totals of a route.
STOPS, DRIVE, COST, SOFT_STOPS, TIME_COST = range(5)
ROUTE_COLUMNS = 5


class State(NamedTuple):
    """A set of routes: ``l`` is the longest route plus two. ``at`` gives crew and position, -1 where left out."""

    node: NDArray[np.int32]  # c x l
    time: Ints  # c x l x TIME_COLUMNS
    peak: Ints  # c x l x 2 x k: the highest load up to, and from, each position
    route: Ints  # c x ROUTE_COLUMNS
    at: NDArray[np.int32]  # m x 2
    total: Ints  # 1: the cost of everything, with what is left out


def most_stops(day: Day) -> int:
    """More stops than this no crew can make before it must be back: the shortest visits of all fill its day."""
    longest_s = int((day.crew[:, LATEST] - day.crew[:, READY]).max(initial=0))
    filled_s = np.cumsum(np.sort(day.visit[:, SERVICE]))
    return int(np.searchsorted(filled_s, longest_s, side="right"))


def empty_state(day: Day, longest: int | None = None) -> State:
    """
    Every crew as it stands, every visit left out. Call ``refresh`` for each crew before use.

    :param longest: the most stops that a row must hold; short rows stay in the processor's nearest memory.
    """
    m, c, k = len(day.visit), len(day.crew), day.load.shape[2]
    places = (m if longest is None else min(m, longest)) + 2
    state = State(
        node=np.zeros((c, places), dtype=np.int32),
        time=np.zeros((c, places, TIME_COLUMNS), dtype=np.int64),
        peak=np.zeros((c, places, 2, k), dtype=np.int64),
        route=np.zeros((c, ROUTE_COLUMNS), dtype=np.int64),
        at=np.full((m, 2), -1, dtype=np.int32),
        total=np.zeros(1, dtype=np.int64),
    )
    state.node[:, 0] = day.crew[:, ANCHOR]
    state.node[:, 1] = day.crew[:, END]
    return state


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
