"""
The planner's one entry for a whole day: a frozen problem, a limit and a seed in, an outcome out.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from time import perf_counter

from dispatch.planner.construct import filled, greedy
from dispatch.planner.explain import Move, moves
from dispatch.planner.finish import draft_of, finished, orders_of
from dispatch.planner.frame import frame_of
from dispatch.planner.plan import Plan, Search
from dispatch.planner.problem import Problem

ENGINES = ("own", "routing")


@dataclass(frozen=True)
class Limit:
    """When to stop: after ``seconds`` on the clock, or after ``iterations`` for a result that can be repeated."""

    seconds: float | None = None
    iterations: int | None = None


@dataclass(frozen=True)
class Progress:
    """What a waiting dispatcher is shown: seconds gone, the best cost so far, and the bound when there is one."""

    seconds: float
    cost: int
    bound: int | None = None


@dataclass(frozen=True)
class Outcome:
    """The plan, and what changed against the plan it started from."""

    plan: Plan
    moves: tuple[Move, ...] = ()


def solve(
    problem: Problem,
    *,
    limit: Limit,
    seed: int,
    start: Plan | None = None,
    engine: str = "own",
    on_progress: Callable[[Progress], None] | None = None,
) -> Outcome:
    """
    The best plan found within the limit. It has passed the judge; a must-serve visit that fits nowhere stands in
    ``skipped`` with its reason.

    :param start: a plan to begin from, e.g. the published one; the outcome then lists what moves against it.
    """
    if engine not in ENGINES:
        raise ValueError(f"no engine {engine!r}; there are {', '.join(ENGINES)}")
    begun_at = perf_counter()
    frame = frame_of(problem)
    draft = greedy(frame)
    if start is not None:
        warm = draft_of(frame, orders_of(frame, start))
        warm = filled(frame, warm, sorted(warm.left_out))
        draft = min(warm, draft, key=lambda d: d.worth(frame))
    if on_progress is not None:
        on_progress(Progress(perf_counter() - begun_at, draft.cost(frame)))
    search = Search(seconds=round(perf_counter() - begun_at, 3), iterations=0, seed=seed, routes_pooled=0)
    plan = finished(frame, draft, search)
    return Outcome(plan, () if start is None else moves(frame, start, plan))
