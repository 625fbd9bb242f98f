"""
The same problem searched from several seeds at once, one core each.

How many searches there are does not depend on the cores, so that a seed and a number of iterations give one plan
everywhere. The kernels run without the interpreter lock, so threads of one process use the cores fully and share the
problem's arrays.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor, wait
from dataclasses import dataclass
from time import perf_counter

from dispatch.planner.compact import Compact
from dispatch.planner.search import Orders, Searcher

SEARCHES = 2
REPORT_S = 0.25


@dataclass(frozen=True)
class Found:
    """The best of all searches; ``searchers`` still hold their pools."""

    orders: Orders
    cost: int
    iterations: int
    searchers: tuple[Searcher, ...]


def search(
    compact: Compact,
    seed: int,
    *,
    deadline: float | None = None,
    iterations: int | None = None,
    start: Sequence[Sequence[int]] | None = None,
    warm: bool = False,
    on_cost: Callable[[int], None] | None = None,
    cores: int | None = None,
) -> Found:
    """
    Search until the deadline (of ``perf_counter``), or for ``iterations`` rounds in each of the searches.

    One search cools slowly all the way, for the best plan at the end; the other in stages, for a good one at any time.

    :param warm: the start is a good plan already: one of the searches stays near it.
    :param on_cost: told the best cost so far, about four times a second, in this thread.
    """
    searchers = tuple(
        Searcher(compact, SEARCHES * seed + i, start, warm=warm and i == 0, staged=i == 1) for i in range(SEARCHES)
    )
    workers = max(1, min(SEARCHES, cores if cores is not None else cores_here()))
    # On one core, searches that share a clock take turns; each then has its part of the time.
    turns = -(-SEARCHES // workers)
    with ThreadPoolExecutor(workers, thread_name_prefix="search") as team:
        running: list[Future[None]] = []
        for number, searcher in enumerate(searchers):
            if deadline is None:
                running.append(team.submit(searcher.run_rounds, iterations or 0))
            else:
                begun_at = perf_counter()
                share = begun_at + (deadline - begun_at) * (number // workers + 1) / turns
                running.append(team.submit(searcher.run_until, share))
        while wait(running, timeout=REPORT_S).not_done:
            if on_cost is not None:
                on_cost(min(s.cost for s in searchers))
        for done in running:
            done.result()
    best = min(searchers, key=lambda s: s.cost)
    return Found(best.orders(), best.cost, sum(s.iterations for s in searchers), searchers)


def cores_here() -> int:
    """How many cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
