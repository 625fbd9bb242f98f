"""
The planner's one entry for a whole day: a frozen problem, a limit and a seed in, an outcome out.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from time import perf_counter

from dispatch.planner import own, routing
from dispatch.planner.compact import compact_of
from dispatch.planner.construct import Draft, filled, greedy, opening
from dispatch.planner.explain import Move, moves
from dispatch.planner.finish import draft_of, finished, orders_of
from dispatch.planner.frame import Frame, frame_of
from dispatch.planner.plan import Bound, Plan, Search
from dispatch.planner.problem import Problem

ENGINES = ("own", "routing")
# Visits times crews up to which the plain greedy plan takes a few hundredths of a second.
SMALL = 600


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
    prove: bool = True,
) -> Outcome:
    """
    The best plan found within the limit. It has passed the judge; a must-serve visit that fits nowhere stands in
    ``skipped`` with its reason.

    :param start: a plan to begin from, e.g. the published one; the outcome then lists what moves against it.
    :param prove: whether a day small enough may be enumerated instead of searched.
    """
    if engine not in ENGINES:
        raise ValueError(f"no engine {engine!r}; there are {', '.join(ENGINES)}")
    begun_at = perf_counter()
    frame = frame_of(problem)
    draft = _first(frame, start)
    report = _reporter(on_progress, begun_at)
    seconds = None
    if limit.seconds is not None:
        seconds = max(0.01, begun_at + limit.seconds - _finishing_s(problem, limit.seconds) - perf_counter())
    if engine == "routing":
        result = _by_routing(frame, seconds, limit.iterations)
    else:
        result = own.run(
            frame,
            seed,
            seconds=seconds,
            iterations=limit.iterations,
            start=[route.visits for route in draft.routes],
            warm=start is not None,
            prove=prove,
            on_cost=report,
        )
    after = draft_of(frame, result.orders)
    draft = min(
        filled(frame, after, sorted(after.left_out)) if engine == "routing" else after,
        draft,
        key=lambda d: d.worth(frame),
    )
    told = Search(
        seconds=round(perf_counter() - begun_at, 3),
        iterations=result.iterations,
        seed=seed,
        routes_pooled=result.pooled,
    )
    plan = finished(frame, draft, told, _bound(result, draft.cost(frame)))
    report(plan.cost.total, None if plan.bound is None else plan.bound.value)
    return Outcome(plan, () if start is None else moves(frame, start, plan))


def _by_routing(frame: Frame, seconds: float | None, solutions: int | None) -> own.Result:
    """The second engine's routes; what the judge would refuse drops out when they are timed."""
    compact = compact_of(frame)
    found = None
    if len(compact.visits) and frame.crews:
        found = routing.routes(compact, seconds=seconds, solutions=solutions)
    nodes = [[] for _ in frame.crews] if found is None else found[0]
    return own.Result(routing.orders(compact, nodes), solutions or 0, 0)


def _bound(result: own.Result, cost: int) -> Bound | None:
    if result.proven:
        return Bound(value=cost, what="proven")
    return None if result.bound is None else Bound(value=min(result.bound, cost), what="pool")


def _first(frame: Frame, start: Plan | None) -> Draft:
    """The better of a greedy plan and the plan to begin from."""
    # The search builds a greedy plan of its own in milliseconds, so a big day need not wait for this one.
    small = len(frame.visits) * len(frame.crews) <= SMALL
    draft = greedy(frame) if small else opening(frame)
    if start is None:
        return draft
    warm = draft_of(frame, orders_of(frame, start))
    warm = filled(frame, warm, sorted(warm.left_out))
    return min(warm, draft, key=lambda d: d.worth(frame))


def _finishing_s(problem: Problem, seconds: float) -> float:
    """What the reasons and the judge take at the end, so that the whole stays within the limit."""
    return min(seconds / 4, 0.05 + 0.0005 * len(problem.visits))


def _reporter(on_progress: Callable[[Progress], None] | None, begun_at: float) -> Callable[..., None]:
    def report(cost: int, bound: int | None = None) -> None:
        if on_progress is not None:
            on_progress(Progress(perf_counter() - begun_at, cost, bound))

    return report
