"""
Routes as columns of a choice: which crew, which visits, at what cost, one behind the other in flat arrays.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dispatch.planner.compact import IDLE, LIKE, LOCKED, SKIP, Day, Ints
from dispatch.planner.pooling import Pool


@dataclass(frozen=True)
class Columns:
    """``stops[start[j]:start[j + 1]]`` are the nodes of column ``j`` in order; ``cost`` is the whole route's."""

    crew: NDArray[np.int32]
    cost: Ints
    start: Ints
    stops: NDArray[np.int32]

    def __len__(self) -> int:
        return len(self.crew)

    def route(self, j: int) -> list[int]:
        return [int(v) for v in self.stops[self.start[j] : self.start[j + 1]]]

    def taken(self, which: NDArray[np.intp]) -> Columns:
        """Only some of the columns."""
        return joined([(int(self.crew[j]), int(self.cost[j]), self.route(int(j))) for j in which])


@dataclass(frozen=True)
class Choice:
    """What choosing columns needs of a day: crews that are alike share a group, and one row each of idle and skip."""

    group: Ints  # by crew: the number of its group
    many: Ints  # by group: how many crews
    idle: Ints  # by crew: what it costs without any further stop
    must_go: Ints  # by group: 1 where a crew is under way and needs its column
    skip: Ints  # by visit


def choice_of(day: Day) -> Choice:
    like = day.crew[:, LIKE]
    groups, group = np.unique(like, return_inverse=True)
    open_ = (day.assign >= 0).any(axis=0) if len(day.assign) else np.zeros(len(like), dtype=bool)
    locked = ((day.crew[:, LOCKED] > 0) & open_).astype(np.int64)
    return Choice(
        group=group.astype(np.int64),
        many=np.bincount(group, minlength=len(groups)).astype(np.int64),
        idle=day.crew[:, IDLE].copy(),
        must_go=np.array([locked[group == g].max(initial=0) for g in range(len(groups))], dtype=np.int64),
        skip=day.visit[:, SKIP].copy(),
    )


def joined(routes: Iterable[tuple[int, int, Sequence[int]]]) -> Columns:
    """Columns from (crew, cost, nodes)."""
    listed = list(routes)
    lengths = [len(nodes) for _, _, nodes in listed]
    flat = [v for _, _, nodes in listed for v in nodes]
    return Columns(
        crew=np.array([c for c, _, _ in listed], dtype=np.int32),
        cost=np.array([cost for _, cost, _ in listed], dtype=np.int64),
        start=np.concatenate([[0], np.cumsum(lengths)]).astype(np.int64),
        stops=np.array(flat, dtype=np.int32),
    )


def pooled(pools: Sequence[Pool]) -> Columns:
    """All routes of several pools, one behind the other."""
    held = [int(p.held[0]) for p in pools]
    starts, base = [np.zeros(1, dtype=np.int64)], 0
    for pool, n in zip(pools, held, strict=True):
        starts.append(pool.start[1 : n + 1] + base)
        base += int(pool.start[n])
    return Columns(
        crew=np.concatenate([p.crew[:n] for p, n in zip(pools, held, strict=True)]),
        cost=np.concatenate([p.cost[:n] for p, n in zip(pools, held, strict=True)]),
        start=np.concatenate(starts),
        stops=np.concatenate([p.stops[: p.start[n]] for p, n in zip(pools, held, strict=True)]),
    )


def cheapest_by_set(columns: Columns, choice: Choice) -> NDArray[np.intp]:
    """For every group and set of visits, the cheapest column; in the order of their cost, ties by their number."""
    if not len(columns):
        return np.zeros(0, dtype=np.intp)
    # Two random words for each visit: the sum over a route tells its set from any other but for a chance of 2**-128.
    words = np.random.default_rng(7).integers(0, 2**63, size=(2, len(choice.skip)), dtype=np.uint64)
    lengths = np.diff(columns.start)
    cells = [np.add.reduceat(word[columns.stops], columns.start[:-1]) for word in words]
    assert lengths.min() > 0, "a column holds at least one stop"
    order = np.lexsort((np.arange(len(columns)), columns.cost, cells[1], cells[0], choice.group[columns.crew]))
    group = choice.group[columns.crew][order]
    first = np.ones(len(order), dtype=bool)
    first[1:] = (group[1:] != group[:-1]) | (cells[0][order][1:] != cells[0][order][:-1])
    first[1:] |= cells[1][order][1:] != cells[1][order][:-1]
    kept = order[first]
    return kept[np.lexsort((kept, columns.cost[kept]))]


def with_routes(columns: Columns, routes: Iterable[tuple[int, int, Sequence[int]]]) -> tuple[Columns, tuple[int, ...]]:
    """The columns with some routes behind them, and the numbers of those."""
    more = joined(routes)
    n = len(columns)
    whole = Columns(
        crew=np.concatenate([columns.crew, more.crew]),
        cost=np.concatenate([columns.cost, more.cost]),
        start=np.concatenate([columns.start, more.start[1:] + columns.start[-1]]),
        stops=np.concatenate([columns.stops, more.stops]),
    )
    return whole, tuple(range(n, n + len(more)))


def crewed(columns: Columns, choice: Choice, picked: Sequence[int]) -> list[list[int]]:
    """The nodes for each crew: columns of a group go to its crews in turn, to their own crew where it is free."""
    nodes: list[list[int]] = [[] for _ in choice.group]
    waiting: list[int] = []
    for j in picked:
        if nodes[columns.crew[j]]:
            waiting.append(j)
        else:
            nodes[columns.crew[j]] = columns.route(j)
    for j in waiting:
        group = choice.group[columns.crew[j]]
        free = next(c for c in range(len(nodes)) if choice.group[c] == group and not nodes[c])
        nodes[free] = columns.route(j)
    return nodes
