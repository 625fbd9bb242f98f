"""
The same problem searched from several seeds at once, one core each, and a big one in parts before that.

How many searches there are does not depend on the cores, so that a seed and a number of iterations give one plan
everywhere. The kernels run without the interpreter lock, so threads of one process use the cores fully and share the
problem's arrays.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import Executor, Future, ThreadPoolExecutor, wait
from dataclasses import dataclass
from time import perf_counter

from dispatch.planner.compact import Compact
from dispatch.planner.early import ONCE, TWICE, Divided, early_rounds, early_s, pays
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
    A big day begins with both cores on the plan of the second, in parts.

    :param warm: the start is a good plan already: one of the searches stays near it.
    :param on_cost: told the best cost so far, about four times a second, in this thread.
    """
    workers = max(1, min(SEARCHES, cores if cores is not None else cores_here()))
    slow, staged = (
        Searcher(compact, SEARCHES * seed + i, start, warm=warm and i == 0, staged=i == 1) for i in range(SEARCHES)
    )
    told = on_cost or (lambda _: None)
    with ThreadPoolExecutor(workers, thread_name_prefix="search") as team:
        early = None
        if not warm and pays(len(compact.visits)):
            early = Divided(staged, seed, team, workers, told)
        if deadline is None:
            running = _by_count(team, slow, staged, early, iterations or 0)
        else:
            running = _by_clock(team, slow, staged, early, deadline, -(-SEARCHES // workers))
        while wait(running, timeout=REPORT_S).not_done:
            told(min(slow.cost, staged.cost))
        for done in running:
            done.result()
    searchers = (slow, staged)
    best = min(searchers, key=lambda s: s.cost)
    return Found(best.orders(), best.cost, sum(s.iterations for s in searchers), searchers)


def _by_count(
    team: Executor, slow: Searcher, staged: Searcher, early: Divided | None, rounds: int
) -> list[Future[None]]:
    done = 0
    if early is not None:
        done = early_rounds(len(staged.compact.visits), rounds)
        early.run_rounds(done, TWICE if done < rounds else ONCE)
    return [team.submit(slow.run_rounds, rounds - done), team.submit(staged.run_rounds, rounds, done)]


def _by_clock(
    team: Executor, slow: Searcher, staged: Searcher, early: Divided | None, deadline: float, turns: int
) -> list[Future[None]]:
    begun_at = perf_counter()
    if early is not None:
        seconds = deadline - begun_at
        first_s = early_s(len(staged.compact.visits), seconds)
        early.run_until(begun_at, begun_at + first_s, TWICE if first_s < seconds else ONCE)
    now = perf_counter()
    # On one core, searches that share a clock take turns; each then has its part of the time.
    first = team.submit(slow.run_until, now + (deadline - now) / turns)
    return [first, team.submit(staged.run_until, deadline, begun_at)]


def cores_here() -> int:
    """How many cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
