"""
The cheapest place for a visit, exactly.

What was found on a route is kept until the route changes. Where one must be looked through, most places are ruled out
by the arcs alone, most others by the times that stand beside each position; only where a place could still win and time
has a price there is the route worked through.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from dispatch.planner.compact import (
    BEGUN,
    BREAK,
    BREAK_FROM,
    BREAK_LAST,
    CAPACITY,
    DRIVE_LIMIT,
    DUE,
    EARLY,
    LATE,
    LATE_RATE,
    LIKE,
    LOCKED,
    MOVED_RATE,
    PROMISED,
    SERVICE,
    SOFT,
    UNTIL,
    Day,
    Ints,
)
from dispatch.planner.hours import IMPOSSIBLE, NEVER, after_break, soft_price, soonest_end
from dispatch.planner.jit import kernel
from dispatch.planner.kernels import (
    DRIVE,
    FLOOR,
    LATEST_HAD,
    LATEST_OWED,
    LEAVE_HAD,
    LEAVE_OWED,
    PAID_HAD,
    PAID_OWED,
    SOFT_STOPS,
    STOPS,
    TIME_COST,
    VERSION,
    State,
)
from dispatch.planner.work import KNOWN_COST, KNOWN_PLACE, KNOWN_VERSION, Work, draw

DEAR = 2**61
HINTS = 8


@kernel
def timing(
    owed: int, had: int, into: int, early: int, late: int, service: int, out: int, last: int, from_s: int, long: int
) -> tuple[int, int]:
    """
    The earliest arrival at the next stop with the break still owed and with it had, when a visit comes between.

    ``owed`` and ``had`` are the leavings before it. Numbers only: this is the innermost loop, and an array handed
    over costs more than the sum.
    """
    start = max(had + into, early)
    if owed >= NEVER:
        return NEVER, (start + service + out if start <= late else NEVER)
    start = max(early, min(start, after_break(last, from_s, long, owed, into)))
    next_had = start + service + out if start <= late else NEVER
    start = max(owed + into, early)
    if start > late:
        return NEVER, next_had
    return start + service + out, min(next_had, after_break(last, from_s, long, start + service, out))


@kernel
def laid_out(node: NDArray[np.int32], row: NDArray[np.int32], c: int, i: int, v: int, stops: int) -> None:
    """Into ``row`` the route with ``v`` after position ``i``."""
    for j in range(i + 1):
        row[j] = node[c, j]
    row[i + 1] = v
    for j in range(i + 1, stops + 2):
        row[j + 1] = node[c, j]


@kernel
def carried(load: Ints, peak: Ints, deliver: Ints, collect: Ints, c: int, i: int, v: int) -> bool:
    """Whether the vehicle has room for ``v`` after position ``i``."""
    for k in range(load.shape[2]):
        room = load[c, CAPACITY, k]
        if peak[c, i, 0, k] + deliver[v, k] > room or peak[c, i, 1, k] + collect[v, k] > room:
            return False
    return True


@kernel
def cheapest(day: Day, state: State, work: Work, v: int, blink: float) -> tuple[int, int, int]:
    """
    The cheapest place of ``v``: added cost, crew, position; DEAR where there is none.

    A route's best place is overlooked with chance ``blink`` (Christiaens and Vanden Berghe, "Slack induction by string
    removals", 2020), so that the same visits do not always come back to the same places.
    """
    # Arrays by name: taking them from the tuple inside the loop would count references at every step.
    crew, assign, able, near = day.crew, day.assign, day.able, day.near
    route, at, random = state.route, state.at, work.random
    known, like, seen, asked = work.known, work.like, work.seen, work.asked
    best, best_c, best_i, n = DEAR, -1, -1, 0
    like[:] = -1
    seen[:] = 0
    # The crews of the nearest neighbours first: what they offer rules most of the others out by the arcs alone.
    hints = min(HINTS, near.shape[2])
    first, past = day.able_from[v], day.able_from[v + 1]
    for q in range(first - hints, past):
        c = able[q] if q >= first else at[near[0, v, q - first + hints], 0]
        if c < 0 or seen[c] == 1 or assign[v, c] < 0:
            continue
        seen[c] = 1
        if route[c, STOPS] == 0 and crew[c, BEGUN] == 0:
            kind = crew[c, LIKE]
            if like[kind] == v:
                continue
            like[kind] = v
        overlooked = -1
        if known[v, c, KNOWN_VERSION] == route[c, VERSION]:
            cost, i = known[v, c, KNOWN_COST], known[v, c, KNOWN_PLACE]
            if cost >= best:
                continue
            if i >= 0:
                if blink <= 0.0 or draw(random) >= blink:
                    best, best_c, best_i = cost, c, i
                    continue
                overlooked = i
        asked[n, 0], asked[n, 1] = c, overlooked
        n += 1
    if n == 0:
        return best, best_c, best_i
    return look(day, state, work, v, blink, n, best, best_c, best_i)


@kernel
def look(
    day: Day, state: State, work: Work, v: int, blink: float, n: int, best: int, best_c: int, best_i: int
) -> tuple[int, int, int]:
    """As ``cheapest``, from a best place known so far, through the first ``n`` routes that are asked for."""
    seconds, arc, arc_in, visit, crew = day.seconds, day.arc, day.arc_in, day.visit, day.crew
    assign, load, deliver, collect = day.assign, day.load, day.deliver, day.collect
    node, gap, time, route, peak = state.node, state.gap, state.time, state.route, state.peak
    random, row, known, asked, rate = work.random, work.row, work.known, work.asked, day.overtime_rate
    early, late, service = visit[v, EARLY], visit[v, LATE], visit[v, SERVICE]
    due, late_rate, promised, moved_rate = visit[v, DUE], visit[v, LATE_RATE], visit[v, PROMISED], visit[v, MOVED_RATE]
    for q in range(n):
        c, overlooked = asked[q, 0], asked[q, 1]
        stops = route[c, STOPS]
        at_home = stops == 0 and crew[c, BEGUN] == 0
        prefer, paid = assign[v, c], route[c, TIME_COST]
        soft = route[c, SOFT_STOPS] > 0 or visit[v, SOFT] > 0
        while True:
            least, place = best, -1
            for i in range(crew[c, LOCKED], stops + 1):
                a, b = node[c, i], node[c, i + 1]
                whole = arc_in[v, a] + arc[v, b] + prefer - gap[c, i]
                if whole >= least or i == overlooked:
                    continue
                if min(time[c, i, LEAVE_OWED], time[c, i, LEAVE_HAD]) > late:
                    break  # nobody gets earlier along a route
                into, out = seconds[a, v], seconds[v, b]
                owed, had = timing(
                    time[c, i, LEAVE_OWED],
                    time[c, i, LEAVE_HAD],
                    into,
                    early,
                    late,
                    service,
                    out,
                    crew[c, BREAK_LAST],
                    crew[c, BREAK_FROM],
                    crew[c, BREAK],
                )
                if had > time[c, i + 1, LATEST_HAD] and owed > time[c, i + 1, LATEST_OWED]:
                    continue
                if not carried(load, peak, deliver, collect, c, i, v):
                    continue
                longer = into + out - (0 if at_home else seconds[a, b])
                if route[c, DRIVE] + longer > crew[c, DRIVE_LIMIT]:
                    continue
                whole -= paid
                if soft:
                    start = min(owed, had) - out - service
                    floor = late_rate * max(0, start - due) + moved_rate * max(0, start - promised)
                    floor += time[c, i, FLOOR]
                    if whole + floor >= least:
                        continue
                    end, more = soonest_end(seconds, visit, crew, node, c, i + 1, stops, owed, had)
                    if whole + floor + more + rate * max(0, end - crew[c, UNTIL]) >= least:
                        continue
                    laid_out(node, row, c, i, v, stops)
                    price = soft_price(seconds, visit, crew, row, c, stops + 1, rate, max(0, least - whole))
                    if price == IMPOSSIBLE:
                        continue
                    whole += price
                elif rate > 0 and had > time[c, i + 1, PAID_HAD] and owed > time[c, i + 1, PAID_OWED]:
                    end, _ = soonest_end(seconds, visit, crew, node, c, i + 1, stops, owed, had)
                    whole += rate * max(0, end - crew[c, UNTIL])
                if whole < least:
                    least, place = whole, i
            if overlooked < 0:
                known[v, c, KNOWN_VERSION] = route[c, VERSION]
                known[v, c, KNOWN_COST], known[v, c, KNOWN_PLACE] = least, place
                if place >= 0 and blink > 0.0 and draw(random) < blink:
                    overlooked = place
                    continue
            if place >= 0:
                best, best_c, best_i = least, c, place
            break
    return best, best_c, best_i
