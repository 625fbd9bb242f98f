"""
Ruin and recreate under simulated annealing, compiled: strings of neighbouring stops come out, and go back in.

The ruin is that of Christiaens and Vanden Berghe, "Slack induction by string removals for vehicle routing problems",
Transportation Science 54 (2020), sections 5.2 and 5.3; half of the time with neighbours that also share their hours.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from dispatch.planner.compact import LOCKED, SKIP, Day, Ints
from dispatch.planner.jit import kernel
from dispatch.planner.kernels import COST, ROUTE_COLUMNS, STOPS, TIME_COLUMNS, State, insert, refresh
from dispatch.planner.places import DEAR, cheapest
from dispatch.planner.pooling import Pool, remember
from dispatch.planner.recreate import order
from dispatch.planner.work import Work, below, draw

AVERAGE_REMOVED = 10
MOST_REMOVED = 30.0
SPLIT_CHANCE = 0.5
WHOLE_ROUTE_CHANCE = 0.02
BLINK = 0.01
GENEROUS_CHANCE = 0.1
GENEROSITY = 3
MOST_TRIED_AGAIN = 10


class Best(NamedTuple):
    """The best plan so far."""

    node: NDArray[np.int32]  # c x l
    stops: Ints  # c
    cost: Ints  # 1


@kernel
def keep(state: State, best: Best) -> None:
    """Note the current plan as the best."""
    for c in range(len(best.stops)):
        stops = state.route[c, STOPS]
        best.stops[c] = stops
        for i in range(stops + 2):
            best.node[c, i] = state.node[c, i]
    best.cost[0] = state.total[0]


@kernel
def copy_route(source: State, target: State, c: int) -> None:
    # Number by number: a copy of slices takes ten times as long on rows as short as these.
    node, gap, time, peak, route = source.node, source.gap, source.time, source.peak, source.route
    to_node, to_gap, to_time, to_peak, to_route = target.node, target.gap, target.time, target.peak, target.route
    for i in range(route[c, STOPS] + 2):
        to_node[c, i], to_gap[c, i] = node[c, i], gap[c, i]
        for j in range(TIME_COLUMNS):
            to_time[c, i, j] = time[c, i, j]
        for k in range(peak.shape[3]):
            to_peak[c, i, 0, k], to_peak[c, i, 1, k] = peak[c, i, 0, k], peak[c, i, 1, k]
    for j in range(ROUTE_COLUMNS):
        to_route[c, j] = route[c, j]


@kernel
def touch(state: State, saved: State, work: Work, c: int) -> None:
    """Save a route before its first change in this iteration."""
    if work.mark[c] == 0:
        work.mark[c] = 1
        work.touched[0] += 1
        work.touched[work.touched[0]] = c
        copy_route(state, saved, c)


@kernel
def take_out(day: Day, state: State, work: Work, c: int, first: int, count: int, spared: int, spared_n: int) -> None:
    """Move ``count`` stops from ``first`` on into the queue, but for ``spared_n`` from ``spared`` on."""
    node, at, queue = state.node, state.at, work.queue
    stops = state.route[c, STOPS]
    to, n = first, work.queued[0]
    for i in range(first, stops + 2):
        v = node[c, i]
        if i < first + count and not spared <= i < spared + spared_n:
            at[v, 0] = -1
            queue[n] = v
            n += 1
        else:
            node[c, to] = v
            to += 1
    work.queued[0] = n
    state.route[c, STOPS] = to - 2


@kernel
def string(day: Day, state: State, saved: State, work: Work, v: int, longest: float) -> bool:
    """Remove a string of stops around ``v``; whether what remains still holds."""
    c, at = state.at[v, 0], state.at[v, 1]
    first_open = day.crew[c, LOCKED] + 1
    open_stops = state.route[c, STOPS] - first_open + 1
    if at < first_open:
        return True
    touch(state, saved, work, c)
    if draw(work.random) < WHOLE_ROUTE_CHANCE and open_stops <= MOST_REMOVED:
        take_out(day, state, work, c, first_open, open_stops, 0, 0)
        return refresh(day, state, c)
    length = min(open_stops, 1 + int(draw(work.random) * min(longest, open_stops)))
    spared_n = 0
    if length > 1 and length < open_stops and draw(work.random) < SPLIT_CHANCE:
        spared_n = 1
        while length + spared_n < open_stops and draw(work.random) < 0.5:
            spared_n += 1
    span = length + spared_n
    lowest = max(first_open, at - span + 1)
    highest = min(at, first_open + open_stops - span)
    first = lowest + below(work.random, highest - lowest + 1)
    spared = first + 1 + below(work.random, span - spared_n - 1) if spared_n > 0 else 0
    take_out(day, state, work, c, first, span, spared, spared_n)
    return refresh(day, state, c)


@kernel
def ruin(day: Day, state: State, saved: State, work: Work, average: float) -> bool:
    """Remove strings from routes near a visit drawn at random; whether what remains still holds."""
    near, at, route, mark, random = day.near, state.at, state.route, work.mark, work.random
    seed = below(random, len(at))
    crews_out, stops_out = 0, 0
    for c in range(len(route)):
        if route[c, STOPS] > 0:
            crews_out += 1
            stops_out += route[c, STOPS]
    # Long routes hide more than ten stops that belong together.
    mean = stops_out / max(1, crews_out)
    average = max(average, min(mean, MOST_REMOVED))
    longest = min(average, mean)
    strings = int(1.0 + draw(random) * (4.0 * average / (1.0 + longest) - 1.0))
    which = below(random, 2)
    done = 0
    for q in range(near.shape[2]):
        v = near[which, seed, q]
        c = at[v, 0]
        if c < 0 or mark[c] == 1:
            continue
        if not string(day, state, saved, work, v, longest):
            return False
        done += 1
        if done >= strings:
            break
    return True


@kernel
def left_out(state: State, work: Work) -> int:
    """Queue up to a handful of the visits that were left out before; how many."""
    at, queue = state.at, work.queue
    seen, kept = 0, 0
    for v in range(len(at)):
        if at[v, 0] < 0:
            seen += 1
            if kept < MOST_TRIED_AGAIN:
                queue[kept] = v
                kept += 1
            else:
                place = below(work.random, seen)
                if place < kept:
                    queue[place] = v
    return kept


@kernel
def recreate(day: Day, state: State, saved: State, work: Work, n: int, before: int, limit: float) -> int:
    """
    Put the queue back, each visit where it is cheapest, unless leaving it out is cheaper still; the whole cost then.

    The first ``before`` of the queue were left out already. Given up, with DEAR, as soon as the cost is no longer below
    ``limit``: what comes back adds to it.
    """
    visit, queue, touched, route, route_before = day.visit, work.queue, work.touched, state.route, saved.route
    total: int = state.total[0]
    for t in range(1, touched[0] + 1):
        total += route[touched[t], COST] - route_before[touched[t], COST]
    for q in range(before):
        total -= visit[queue[q], SKIP]
    order(day, work, n)
    # Two visits may together be worth a drive that neither is worth alone: now and then both may go in.
    generous = GENEROSITY if draw(work.random) < GENEROUS_CHANCE else 1
    for q in range(n):
        v = queue[q]
        cost, c, i = cheapest(day, state, work, v, BLINK)
        if cost < generous * visit[v, SKIP]:
            touch(state, saved, work, c)
            insert(day, state, c, i, v, cost)
            total += cost
        else:
            total += visit[v, SKIP]
        if total >= limit:
            return DEAR
    return total


@kernel
def undo(state: State, saved: State, work: Work, n: int) -> None:
    """Back to the routes as saved."""
    at, node, route, queue, touched = state.at, state.node, state.route, work.queue, work.touched
    for q in range(n):
        at[queue[q], 0] = -1
    for t in range(1, touched[0] + 1):
        c = touched[t]
        copy_route(saved, state, c)
        for i in range(1, route[c, STOPS] + 1):
            v = node[c, i]
            at[v, 0], at[v, 1] = c, i


@kernel
def anneal(
    day: Day,
    state: State,
    saved: State,
    work: Work,
    best: Best,
    pool: Pool,
    temperature: float,
    average: float,
    rounds: int,
) -> None:
    """So many rounds of ruin and recreate at one temperature (in units of cost)."""
    for _ in range(rounds):
        work.touched[0] = 0
        before = left_out(state, work)
        work.queued[0] = before
        total, limit = DEAR, state.total[0] - temperature * np.log(1.0 - draw(work.random))
        if ruin(day, state, saved, work, average):
            total = recreate(day, state, saved, work, work.queued[0], before, limit)
        if total < limit:
            state.total[0] = total
            for t in range(1, work.touched[0] + 1):
                remember(pool, state, work.touched[t])
            if total < best.cost[0]:
                keep(state, best)
        else:
            undo(state, saved, work, work.queued[0])
        for t in range(1, work.touched[0] + 1):
            work.mark[work.touched[t]] = 0
