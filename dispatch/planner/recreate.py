"""
Putting visits into routes, one at a time at the cheapest place, exactly.

Most places are ruled out by the arcs alone, most others by the times that stand beside each position; only where a
place could still win and time has a price there is the route worked through.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from dispatch.planner.compact import (
    BEGUN,
    BREAK,
    BREAK_FROM,
    BREAK_LAST,
    CAPACITY,
    CHOICES,
    DRIVE_LIMIT,
    DUE,
    EARLY,
    LATE,
    LIKE,
    LOCKED,
    REMOTE,
    SERVICE,
    SKIP,
    SOFT,
    UNTIL,
    Day,
    Ints,
)
from dispatch.planner.hours import IMPOSSIBLE, NEVER, after_break, soft_price, soonest_end
from dispatch.planner.jit import kernel
from dispatch.planner.kernels import (
    DRIVE,
    LATEST_HAD,
    LATEST_OWED,
    LEAVE_HAD,
    LEAVE_OWED,
    NEXT_ARC,
    PAID_HAD,
    PAID_OWED,
    SOFT_STOPS,
    STOPS,
    TIME_COST,
    State,
    refresh,
)

DEAR = 2**61
HINTS = 8


class Work(NamedTuple):
    """Scratch space of one search: its random state, and rows that no iteration needs to allocate."""

    random: NDArray[np.uint64]  # 1
    row: NDArray[np.int32]  # m + 2
    queue: NDArray[np.int32]  # m
    queued: Ints  # 1: how many stand in the queue
    key: NDArray[np.float64]  # m
    seen: NDArray[np.int32]  # c: 1 where already looked at
    like: Ints  # c: the visit that last looked at an empty crew of this kind
    touched: NDArray[np.int32]  # c + 1: how many, then which
    mark: NDArray[np.int32]  # c: 1 where touched


def work_of(day: Day, seed: int) -> Work:
    """Fresh scratch space; the same seed draws the same numbers."""
    m, c = len(day.visit), len(day.crew)
    mixed = (seed * 0x9E3779B97F4A7C15 + 0x2545F4914F6CDD1D) % 2**64 or 1
    return Work(
        random=np.array([mixed], dtype=np.uint64),
        row=np.zeros(m + 2, dtype=np.int32),
        queue=np.zeros(m, dtype=np.int32),
        queued=np.zeros(1, dtype=np.int64),
        key=np.zeros(m, dtype=np.float64),
        seen=np.zeros(c, dtype=np.int32),
        like=np.full(c, -1, dtype=np.int64),
        touched=np.zeros(c + 1, dtype=np.int32),
        mark=np.zeros(c, dtype=np.int32),
    )


@kernel
def draw(random: NDArray[np.uint64]) -> float:
    """The next number in [0, 1): Marsaglia's xorshift, "Xorshift RNGs" (2003), with the triple 13, 7, 17."""
    x = random[0]
    x ^= x << np.uint64(13)
    x ^= x >> np.uint64(7)
    x ^= x << np.uint64(17)
    random[0] = x
    return np.float64(x >> np.uint64(11)) * (1.0 / 9007199254740992.0)


@kernel
def below(random: NDArray[np.uint64], n: int) -> int:
    """A whole number in [0, n)."""
    return int(draw(random) * n)


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

    Each place is overlooked with chance ``blink`` (Christiaens and Vanden Berghe, "Slack induction by string
    removals", 2020), so that the same visits do not always come back to the same places.
    """
    # Arrays by name: taking them from the tuple inside the loop would count references at every step.
    seconds, arc, arc_in, visit, crew = day.seconds, day.arc, day.arc_in, day.visit, day.crew
    assign, load, deliver, collect = day.assign, day.load, day.deliver, day.collect
    node, time, route, peak, random = state.node, state.time, state.route, state.peak, work.random
    row, rate = work.row, day.overtime_rate
    near, able, at, like, seen = day.near, day.able, state.at, work.like, work.seen
    early, late, service = visit[v, EARLY], visit[v, LATE], visit[v, SERVICE]
    best, best_c, best_i = DEAR, -1, -1
    like[:] = -1
    seen[:] = 0
    # The crews of the nearest neighbours first: what they offer rules most of the others out by the arcs alone.
    hints = min(HINTS, near.shape[2])
    first, past = day.able_from[v], day.able_from[v + 1]
    for n in range(first - hints, past):
        c = able[n] if n >= first else at[near[0, v, n - first + hints], 0]
        if c < 0 or seen[c] == 1 or assign[v, c] < 0:
            continue
        seen[c] = 1
        stops = route[c, STOPS]
        at_home = stops == 0 and crew[c, BEGUN] == 0
        if at_home:
            kind = crew[c, LIKE]
            if like[kind] == v:
                continue
            like[kind] = v
        prefer, paid = assign[v, c], route[c, TIME_COST]
        soft = route[c, SOFT_STOPS] > 0 or visit[v, SOFT] > 0
        for i in range(crew[c, LOCKED], stops + 1):
            if min(time[c, i, LEAVE_OWED], time[c, i, LEAVE_HAD]) > late:
                break  # nobody gets earlier along a route
            a, b = node[c, i], node[c, i + 1]
            whole = arc_in[v, a] + arc[v, b] + prefer - time[c, i, NEXT_ARC]
            if whole >= best or (blink > 0.0 and draw(random) < blink):
                continue
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
                laid_out(node, row, c, i, v, stops)
                price = soft_price(seconds, visit, crew, row, c, stops + 1, rate, max(0, best - whole))
                if price == IMPOSSIBLE:
                    continue
                whole += price
            elif had > time[c, i + 1, PAID_HAD] and owed > time[c, i + 1, PAID_OWED]:
                end = soonest_end(seconds, visit, crew, node, c, i + 1, stops, owed, had)
                whole += rate * max(0, end - crew[c, UNTIL])
            if whole < best:
                best, best_c, best_i = whole, c, i
    return best, best_c, best_i


@kernel
def insert(day: Day, state: State, c: int, i: int, v: int) -> None:
    """Put ``v`` after position ``i``."""
    stops = state.route[c, STOPS]
    for j in range(stops + 1, i, -1):
        state.node[c, j + 1] = state.node[c, j]
    state.node[c, i + 1] = v
    state.route[c, STOPS] = stops + 1
    refresh(day, state, c)


@kernel
def order(day: Day, work: Work, n: int) -> None:
    """Sort the queue by one of several keys, drawn at random."""
    choice = below(work.random, 14)
    for q in range(n):
        v = work.queue[q]
        row = day.visit[v]
        if choice < 4:
            key = draw(work.random)
        elif choice < 6:
            key = -float(row[SERVICE])
        elif choice < 8:
            key = float(row[LATE] - row[EARLY])
        elif choice < 9:
            key = float(row[EARLY])
        elif choice < 10:
            key = float(min(row[LATE], row[DUE]))
        elif choice < 11:
            key = -float(row[SKIP])
        elif choice < 12:
            key = float(row[CHOICES])
        else:
            key = -float(row[REMOTE]) if choice < 13 else float(row[REMOTE])
        work.key[q] = key
    for q in range(1, n):
        v, key = work.queue[q], work.key[q]
        p = q
        while p > 0 and work.key[p - 1] > key:
            work.queue[p], work.key[p] = work.queue[p - 1], work.key[p - 1]
            p -= 1
        work.queue[p], work.key[p] = v, key
