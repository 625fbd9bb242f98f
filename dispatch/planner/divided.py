"""
A big day in parts: some crews with their visits on each side of a cut, searched at once and joined again.

A part knows half of the crews, so that a round looks through half as many routes, and two cores do twice the rounds on
one plan. The cut lies elsewhere every time, so that what belongs together meets. Compare Santini, Schneider, Vidal and
Vigo, "Decomposition strategies for vehicle routing heuristics", INFORMS Journal on Computing 35 (2023) (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dispatch.planner.anneal import AVERAGE_REMOVED, Best, anneal, keep
from dispatch.planner.compact import ANCHOR, END, LIKE, Day, Ints
from dispatch.planner.kernels import STOPS, State, empty_state, refresh_all
from dispatch.planner.pooling import Pool, empty_pool
from dispatch.planner.work import Work, work_of

Some = NDArray[np.intp]

# A part is searched for a tenth of a second or so.
ROUTES = 4_000


@dataclass(frozen=True)
class Part:
    """
    Some crews and visits as a day of their own, with the state of its search.

    :ivar crews: their numbers in the whole day, by their number here; ``nodes`` likewise, visits first.
    """

    crews: Some
    nodes: NDArray[np.int32]
    day: Day
    state: State
    saved: State
    work: Work
    best: Best
    pool: Pool


def cut(day: Day, state: State, draws: np.random.Generator, parts: int) -> list[tuple[Some, Some]]:
    """
    The crews and the visits of each part: routes nearer to one of two visits drawn at random against those nearer to
    the other, with about as many stops in every part.

    Crews that have no stop are dealt out kind by kind, so that every part can send out one more; visits left out fall
    to any part.
    """
    m, stops = len(day.visit), state.route[:, STOPS]
    here, there = draws.integers(m, size=2)
    nearer = (day.arc[:m, here] + day.arc[here, :m] - day.arc[:m, there] - day.arc[there, :m]).astype(np.float64)
    out, home = np.flatnonzero(stops), np.flatnonzero(stops == 0)
    middle = np.array([nearer[state.node[c, 1 : 1 + stops[c]]].mean() for c in out])
    side = np.zeros(len(stops), dtype=np.intp)
    order = out[np.argsort(middle, kind="stable")]
    reached = np.cumsum(stops[order])
    if len(order):
        side[order] = np.minimum(parts - 1, (reached - 1) * parts // reached[-1])
    home = home[np.argsort(day.crew[home, LIKE], kind="stable")]
    side[home] = (np.arange(len(home)) + draws.integers(parts)) % parts
    placed = state.at[:, 0]
    of_visit = np.where(placed >= 0, side[placed], draws.integers(parts, size=m))
    return [(np.flatnonzero(side == p), np.flatnonzero(of_visit == p)) for p in range(parts)]


def part_of(day: Day, state: State, crews: Some, visits: Some, seed: int) -> Part:
    """A part with the routes that its crews have now."""
    m, n = len(visits), len(day.visit)
    nodes = np.concatenate([visits, np.arange(n, len(day.arc))]).astype(np.int32)
    number = np.full(n, -1, dtype=np.int32)
    number[visits] = np.arange(m, dtype=np.int32)
    small = _day_of(day, crews, visits, nodes, number)
    longest = state.node.shape[1] - 2
    own = empty_state(small, longest)
    for i, c in enumerate(crews):
        stops = int(state.route[c, STOPS])
        own.node[i, 1 : stops + 1] = number[state.node[c, 1 : stops + 1]]
        own.node[i, stops + 1] = small.crew[i, END]
        own.route[i, STOPS] = stops
    refresh_all(small, own)
    best = Best(own.node.copy(), np.zeros(len(crews), dtype=np.int64), np.zeros(1, dtype=np.int64))
    keep(own, best)
    return Part(crews, nodes, small, own, empty_state(small, longest), work_of(small, seed), best, empty_pool(ROUTES))


def _day_of(day: Day, crews: Some, visits: Some, nodes: NDArray[np.int32], number: NDArray[np.int32]) -> Day:
    m, n = len(visits), len(day.visit)
    grid = np.ix_(nodes, nodes)
    arc = day.arc[grid]
    crew = day.crew[crews]
    # Places stand behind the visits, of which there are fewer now.
    crew[:, ANCHOR] += m - n
    crew[:, END] += m - n
    crew[:, LIKE] = np.unique(crew[:, LIKE], return_inverse=True)[1]
    assign = np.ascontiguousarray(day.assign[np.ix_(visits, crews)])
    who, able = np.nonzero(assign >= 0)
    return Day(
        seconds=day.seconds[grid],
        arc=arc,
        arc_in=np.ascontiguousarray(arc.T),
        visit=day.visit[visits],
        crew=crew,
        assign=assign,
        deliver=day.deliver[visits],
        collect=day.collect[visits],
        load=day.load[crews],
        near=_near(day.near[:, visits], number),
        able=able.astype(np.int32),
        able_from=np.concatenate([[0], np.cumsum(np.bincount(who, minlength=m))]).astype(np.int32),
        overtime_rate=day.overtime_rate,
    )


def _near(near: NDArray[np.int32], number: NDArray[np.int32]) -> NDArray[np.int32]:
    """Neighbours that are in the part, in their order; a row that has fewer ends with the visit itself."""
    inside = number[near]
    order = np.argsort(inside < 0, axis=2, kind="stable")
    inside = np.take_along_axis(inside, order, axis=2)
    itself = np.arange(near.shape[1], dtype=np.int32)[None, :, None]
    return np.ascontiguousarray(np.where(inside < 0, itself, inside))


def rows_of(part: Part, node: NDArray[np.int32], stops: Ints) -> list[tuple[int, list[int]]]:
    """(crew, visits) of the whole day for the rows of a part."""
    return [(int(c), part.nodes[node[i, 1 : 1 + int(stops[i])]].tolist()) for i, c in enumerate(part.crews)]


def heat(part: Part, temperature: float, rounds: int) -> None:
    """So many rounds of ruin and recreate of a part at one temperature (in units of cost)."""
    if len(part.day.visit):
        with np.errstate(over="ignore"):
            anneal(
                part.day,
                part.state,
                part.saved,
                part.work,
                part.best,
                part.pool,
                temperature,
                float(AVERAGE_REMOVED),
                rounds,
            )
