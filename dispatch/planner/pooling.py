"""
The pool of distinct routes that a search has held, for the assignment to choose from.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from dispatch.planner.compact import Ints
from dispatch.planner.jit import kernel
from dispatch.planner.kernels import COST, STOPS, State

MOST_ROUTES = 60_000
STOPS_A_ROUTE = 20


class Pool(NamedTuple):
    """Routes one behind the other in ``stops``; ``slot`` is an open-addressed table of route numbers plus one."""

    slot: NDArray[np.int32]  # a power of two, at least twice the routes
    print_: NDArray[np.uint64]  # by route
    crew: NDArray[np.int32]
    start: Ints
    cost: Ints
    stops: NDArray[np.int32]
    held: Ints  # 1: how many routes


def empty_pool(routes: int = MOST_ROUTES) -> Pool:
    """Room for so many routes of ordinary length."""
    size = 1 << (2 * routes - 1).bit_length()
    return Pool(
        slot=np.zeros(size, dtype=np.int32),
        print_=np.zeros(routes, dtype=np.uint64),
        crew=np.zeros(routes, dtype=np.int32),
        start=np.zeros(routes + 1, dtype=np.int64),
        cost=np.zeros(routes, dtype=np.int64),
        stops=np.zeros(routes * STOPS_A_ROUTE, dtype=np.int32),
        held=np.zeros(1, dtype=np.int64),
    )


@kernel
def fingerprint(stops: NDArray[np.int32], first: int, past: int, c: int) -> np.uint64:
    """Crew and order in one word; that it overflows is meant."""
    h = np.uint64(c + 1) * np.uint64(0x9E3779B97F4A7C15)
    for i in range(first, past):
        h = (h ^ np.uint64(stops[i] + 1)) * np.uint64(0xD6E8FEB86659FD93)
        h ^= h >> np.uint64(32)
    return h


@kernel
def settle(pool: Pool, c: int, stops: int, cost: int) -> None:
    """Keep the route whose stops were written behind the last one, unless it is known."""
    n = pool.held[0]
    h = fingerprint(pool.stops, pool.start[n], pool.start[n] + stops, c)
    wrap = np.uint64(len(pool.slot) - 1)
    at = h & wrap
    while pool.slot[at] > 0:
        if pool.print_[pool.slot[at] - 1] == h:
            return
        at = (at + np.uint64(1)) & wrap
    pool.slot[at] = n + 1
    pool.print_[n], pool.crew[n], pool.cost[n] = h, c, cost
    pool.start[n + 1] = pool.start[n] + stops
    pool.held[0] = n + 1


@kernel
def room(pool: Pool, stops: int) -> bool:
    n: int = pool.held[0]
    return n < len(pool.crew) and bool(pool.start[n] + stops <= len(pool.stops))


@kernel
def remember(pool: Pool, state: State, c: int) -> None:
    """Add a route unless it is known or the pool is full."""
    stops = state.route[c, STOPS]
    if stops == 0 or not room(pool, stops):
        return
    first = pool.start[pool.held[0]]
    for i in range(stops):
        pool.stops[first + i] = state.node[c, i + 1]
    settle(pool, c, stops, state.route[c, COST])


@kernel
def pour(source: Pool, target: Pool, crews: NDArray[np.intp], nodes: NDArray[np.int32]) -> None:
    """Add the routes of a part's pool, whose crews and visits have other numbers there."""
    for r in range(source.held[0]):
        stops = source.start[r + 1] - source.start[r]
        if not room(target, stops):
            return
        first = target.start[target.held[0]]
        for i in range(stops):
            target.stops[first + i] = nodes[source.stops[source.start[r] + i]]
        settle(target, crews[source.crew[r]], stops, source.cost[r])
