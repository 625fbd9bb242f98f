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
from dispatch.planner.hours import IMPOSSIBLE, NEVER, after_break, least_price, soft_price
from dispatch.planner.jit import kernel

# What stands beside a position: earliest leaving with the break owed / had, latest start likewise within
# ``at_latest``, latest start likewise without overtime, and what lateness and moved promises have cost so far at least.
LEAVE_OWED, LEAVE_HAD, LATEST_OWED, LATEST_HAD, PAID_OWED, PAID_HAD, FLOOR = range(7)
TIME_COLUMNS = 7
# The row of totals of a route; its VERSION tells it from every other route that this state has held.
STOPS, DRIVE, COST, SOFT_STOPS, TIME_COST, VERSION = range(6)
ROUTE_COLUMNS = 6


class State(NamedTuple):
    """A set of routes: ``l`` is the longest route plus two. ``at`` gives crew and position, -1 where left out."""

    node: NDArray[np.int32]  # c x l
    gap: Ints  # c x l: the price of the arc from each position to the next, what an insertion there saves
    time: Ints  # c x l x TIME_COLUMNS
    peak: Ints  # c x l x 2 x k: the highest load up to, and from, each position
    route: Ints  # c x ROUTE_COLUMNS
    at: NDArray[np.int32]  # m x 2
    total: Ints  # 1: the cost of everything, with what is left out
    versions: Ints  # 1: how many routes were worked out so far


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
        gap=np.zeros((c, places), dtype=np.int64),
        time=np.zeros((c, places, TIME_COLUMNS), dtype=np.int64),
        peak=np.zeros((c, places, 2, k), dtype=np.int64),
        route=np.zeros((c, ROUTE_COLUMNS), dtype=np.int64),
        at=np.full((m, 2), -1, dtype=np.int32),
        total=np.zeros(1, dtype=np.int64),
        versions=np.zeros(1, dtype=np.int64),
    )
    state.node[:, 0] = day.crew[:, ANCHOR]
    state.node[:, 1] = day.crew[:, END]
    return state


@kernel
def forward(
    seconds: Ints,
    visit: Ints,
    crew: Ints,
    node: NDArray[np.int32],
    time: Ints,
    c: int,
    first: int,
    stops: int,
    new: int,
) -> None:
    """
    Earliest leaving from position ``first`` on, and the least price up to there.

    :param new: behind this position everything stands as it was, so that the first equal leaving ends the work.
    """
    last, from_s, long = crew[c, BREAK_LAST], crew[c, BREAK_FROM], crew[c, BREAK]
    if first == 1:
        owed, had = (crew[c, READY], NEVER) if long > 0 else (NEVER, crew[c, READY])
        time[c, 0, LEAVE_OWED], time[c, 0, LEAVE_HAD], time[c, 0, FLOOR] = owed, had, 0
    owed, had, price = time[c, first - 1, LEAVE_OWED], time[c, first - 1, LEAVE_HAD], time[c, first - 1, FLOOR]
    for i in range(first, stops + 1):
        v = node[c, i]
        drive = seconds[node[c, i - 1], v]
        early, late, service = visit[v, EARLY], visit[v, LATE], visit[v, SERVICE]
        start = had + drive
        if owed < NEVER:
            start = min(start, after_break(last, from_s, long, owed, drive))
        start_had, start_owed = max(start, early), max(owed + drive, early)
        had = start_had + service if start_had <= late else NEVER
        owed = start_owed + service if start_owed <= late else NEVER
        if visit[v, SOFT] > 0:
            price += least_price(visit, v, min(start_had, start_owed))
        if i > new and time[c, i, LEAVE_OWED] == owed and time[c, i, LEAVE_HAD] == had and time[c, i, FLOOR] == price:
            break
        time[c, i, LEAVE_OWED], time[c, i, LEAVE_HAD], time[c, i, FLOOR] = owed, had, price


@kernel
def backward(
    seconds: Ints,
    visit: Ints,
    crew: Ints,
    node: NDArray[np.int32],
    time: Ints,
    c: int,
    last_stop: int,
    new: int,
    column: int,
) -> None:
    """
    Latest start from ``last_stop`` back, from what stands behind it, into ``column`` and the one after it.

    :param new: before this position everything stands as it was, so that the first equal start ends the work.
    """
    last, from_s, long = crew[c, BREAK_LAST], crew[c, BREAK_FROM], crew[c, BREAK]
    owed, had = time[c, last_stop + 1, column], time[c, last_stop + 1, column + 1]
    for i in range(last_stop, 0, -1):
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
        if i < new and time[c, i, column] == owed and time[c, i, column + 1] == had:
            break
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
    node, gap, time, route, at = state.node, state.gap, state.time, state.route, state.at
    stops = route[c, STOPS]
    forward(seconds, visit, crew, node, time, c, 1, stops, stops)
    time[c, stops + 1, LATEST_OWED], time[c, stops + 1, LATEST_HAD] = home_by(crew, c, crew[c, LATEST])
    time[c, stops + 1, PAID_OWED], time[c, stops + 1, PAID_HAD] = home_by(crew, c, crew[c, UNTIL])
    backward(seconds, visit, crew, node, time, c, stops, 0, LATEST_OWED)
    if day.overtime_rate > 0:
        backward(seconds, visit, crew, node, time, c, stops, 0, PAID_OWED)
    fits = loads(day.load, day.deliver, day.collect, node, state.peak, c, stops)
    cost, drive, soft = crew[c, SPENT], crew[c, DRIVEN], 0
    for i in range(stops + 1):
        a, b = node[c, i], node[c, i + 1]
        gap[c, i] = arc[a, b]
        cost += arc[a, b]
        drive += seconds[a, b]
        if i > 0:
            cost += assign[a, c]
            soft += visit[a, SOFT] > 0
            at[a, 0], at[a, 1] = c, i
    route[c, DRIVE], route[c, SOFT_STOPS], route[c, TIME_COST] = drive, soft, 0
    state.versions[0] += 1
    route[c, VERSION] = state.versions[0]
    begun = crew[c, BEGUN] > 0
    if stops == 0:
        # What has begun is a fact and holds by itself.
        route[c, COST] = crew[c, IDLE]
        route[c, TIME_COST] = crew[c, IDLE] - cost
        if not begun:
            # A crew that stays home costs nothing, so its first stop pays both arcs and the fixed price.
            gap[c, 0] = -crew[c, FIXED]
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
def home_by(crew: Ints, c: int, limit: int) -> tuple[int, int]:
    """When the crew must be back at the latest, with the break still owed and with it had."""
    return min(limit, crew[c, BREAK_OWED]), limit


@kernel
def insert(day: Day, state: State, c: int, i: int, v: int, added: int) -> None:
    """
    Put ``v`` after position ``i`` of a route that holds it there, and work out what that changes.

    :param added: what the whole route then costs more.
    """
    seconds, arc, visit, crew = day.seconds, day.arc, day.visit, day.crew
    node, gap, time, route, at = state.node, state.gap, state.time, state.route, state.at
    stops = route[c, STOPS] + 1
    for j in range(stops, i, -1):
        node[c, j + 1], gap[c, j + 1] = node[c, j], gap[c, j]
        for column in range(TIME_COLUMNS):
            time[c, j + 1, column] = time[c, j, column]
    node[c, i + 1] = v
    route[c, STOPS] = stops
    if stops == 1:
        refresh(day, state, c)
        return
    a, b = node[c, i], node[c, i + 2]
    before = gap[c, i]
    gap[c, i], gap[c, i + 1] = arc[a, v], arc[v, b]
    forward(seconds, visit, crew, node, time, c, i + 1, stops, i + 1)
    backward(seconds, visit, crew, node, time, c, i + 1, i + 1, LATEST_OWED)
    if day.overtime_rate > 0:
        backward(seconds, visit, crew, node, time, c, i + 1, i + 1, PAID_OWED)
    loads(day.load, day.deliver, day.collect, node, state.peak, c, stops)
    for j in range(i + 1, stops + 1):
        at[node[c, j], 0], at[node[c, j], 1] = c, j
    route[c, DRIVE] += seconds[a, v] + seconds[v, b] - seconds[a, b]
    route[c, SOFT_STOPS] += visit[v, SOFT] > 0
    route[c, COST] += added
    route[c, TIME_COST] += added - (arc[a, v] + arc[v, b] - before + day.assign[v, c])
    state.versions[0] += 1
    route[c, VERSION] = state.versions[0]


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
