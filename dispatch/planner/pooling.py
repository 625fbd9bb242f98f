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
STOPS_KEPT = 1_200_000


class Pool(NamedTuple):
    """Routes one behind the other in ``stops``; ``slot`` is an open-addressed table of route numbers plus one."""

    slot: NDArray[np.int32]  # a power of two, at least twice the routes
    print_: NDArray[np.uint64]  # by route
    crew: NDArray[np.int32]
    start: Ints
    cost: Ints
    stops: NDArray[np.int32]
    held: Ints  # 1: how many routes


def empty_pool() -> Pool:
    size = 1 << (2 * MOST_ROUTES - 1).bit_length()
    return Pool(
        slot=np.zeros(size, dtype=np.int32),
        print_=np.zeros(MOST_ROUTES, dtype=np.uint64),
        crew=np.zeros(MOST_ROUTES, dtype=np.int32),
        start=np.zeros(MOST_ROUTES + 1, dtype=np.int64),
        cost=np.zeros(MOST_ROUTES, dtype=np.int64),
        stops=np.zeros(STOPS_KEPT, dtype=np.int32),
        held=np.zeros(1, dtype=np.int64),
    )


@kernel
def fingerprint(state: State, c: int) -> np.uint64:
    """Crew and order in one word; that it overflows is meant."""
    h = np.uint64(c + 1) * np.uint64(0x9E3779B97F4A7C15)
    for i in range(1, state.route[c, STOPS] + 1):
        h = (h ^ np.uint64(state.node[c, i] + 1)) * np.uint64(0xD6E8FEB86659FD93)
        h ^= h >> np.uint64(32)
    return h


@kernel
def remember(pool: Pool, state: State, c: int) -> None:
    """Add a route unless it is known or the pool is full."""
    stops = state.route[c, STOPS]
    n = pool.held[0]
    if stops == 0 or n >= len(pool.crew) or pool.start[n] + stops > len(pool.stops):
        return
    h = fingerprint(state, c)
    wrap = np.uint64(len(pool.slot) - 1)
    at = h & wrap
    while pool.slot[at] > 0:
        if pool.print_[pool.slot[at] - 1] == h:
            return
        at = (at + np.uint64(1)) & wrap
    pool.slot[at] = n + 1
    pool.print_[n], pool.crew[n], pool.cost[n] = h, c, state.route[c, COST]
    for i in range(stops):
        pool.stops[pool.start[n] + i] = state.node[c, i + 1]
    pool.start[n + 1] = pool.start[n] + stops
    pool.held[0] = n + 1
