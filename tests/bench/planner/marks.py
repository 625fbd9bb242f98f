"""
One run for each engine, looked at on the way: what its best plan so far came to after 1, 3, 10, 30 and 60 seconds.

Every look is timed, priced and judged by ``finished`` like any plan that leaves the planner, and only after the run, so
that nobody waits for it. The clock starts before an engine reads the problem.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from time import perf_counter
from unittest.mock import patch

from dispatch.planner import parallel, routing
from dispatch.planner.compact import compact_of
from dispatch.planner.construct import Draft, filled, greedy
from dispatch.planner.divided import Part
from dispatch.planner.finish import draft_of, finished, orders_of
from dispatch.planner.frame import Frame, frame_of
from dispatch.planner.plan import Search
from dispatch.planner.problem import Problem, read_problem
from dispatch.planner.search import Searcher
from dispatch.planner.solve import Limit, solve
from tests.bench.planner import pyvrp_model

Orders = list[list[int]]
Seen = list[tuple[float, int, Orders]]


@dataclass(frozen=True)
class Look:
    """The cost of the best plan by then, and its visits for each crew; null where there was none yet."""

    cost: int
    orders: Orders


Looks = dict[float, Look | None]


def own(problem: Problem, marks: Sequence[float], seed: int) -> Looks:
    """Our engine: two searches on two cores, then the choice from the pool."""
    begun_at = perf_counter()
    with _watched() as searchers:
        plan = solve(problem, limit=Limit(seconds=max(marks)), seed=seed, prove=False).plan
    frame = frame_of(problem)
    seen = sorted(look for s in searchers for look in s.seen)
    looks = _looks(frame, [(at - begun_at, cost, orders) for at, cost, orders in seen], marks)
    looks[max(marks)] = Look(plan.cost.total, orders_of(frame, plan))
    return looks


def pyvrp(problem: Problem, marks: Sequence[float], seed: int) -> Looks:
    """Two processes with two seeds; the better counts at every mark."""
    raw = problem.model_dump_json()
    with ProcessPoolExecutor(2) as team:
        runs = list(team.map(pyvrp_alone, [raw] * 2, [tuple(marks)] * 2, [2 * seed, 2 * seed + 1]))
    return {mark: min((run[mark] for run in runs), key=_worth) for mark in marks}


def pyvrp_alone(raw: str, marks: Sequence[float], seed: int) -> Looks:
    """One process with one seed."""
    problem = read_problem(raw)
    begun_at = perf_counter()
    frame = frame_of(problem)
    compact = compact_of(frame)
    found = pyvrp_model.improvements(compact, max(marks) - (perf_counter() - begun_at), seed)
    seen = [(at - begun_at, cost, routing.orders(compact, nodes)) for at, cost, nodes in found]
    return _looks(frame, seen, marks, fill=True)


def second(problem: Problem, marks: Sequence[float], seed: int) -> Looks:
    """OR-Tools' routing model; it has no seed."""
    begun_at = perf_counter()
    frame = frame_of(problem)
    compact = compact_of(frame)
    seen: Seen = []

    def note(nodes: list[list[int]], cost: int) -> None:
        seen.append((perf_counter() - begun_at, cost, routing.orders(compact, nodes)))

    routing.routes(compact, seconds=max(marks) - (perf_counter() - begun_at), solutions=None, on_solution=note)
    return _looks(frame, seen, marks, fill=True)


def by_greedy(problem: Problem, marks: Sequence[float], seed: int) -> Looks:
    """The plain greedy plan, which has its one answer within the first mark or later."""
    begun_at = perf_counter()
    frame = frame_of(problem)
    draft = greedy(frame)
    took = perf_counter() - begun_at
    return _looks(frame, [(took, draft.cost(frame), [list(r.visits) for r in draft.routes])], marks)


ENGINES: dict[str, Callable[[Problem, Sequence[float], int], Looks]] = {
    "own": own,
    "PyVRP": pyvrp,
    "routing": second,
    "greedy": by_greedy,
}


def scored(frame: Frame, orders: Orders, *, fill: bool = False) -> Look:
    """
    An engine's routes timed, priced and judged.

    :param fill: put what its own model did not place, or what does not hold, where it fits and pays.
    """
    draft: Draft = draft_of(frame, orders)
    if fill:
        draft = filled(frame, draft, sorted(draft.left_out))
    plan = finished(frame, draft, Search())
    return Look(plan.cost.total, orders_of(frame, plan))


def _looks(frame: Frame, seen: Seen, marks: Sequence[float], *, fill: bool = False) -> Looks:
    looks: Looks = {}
    for mark in marks:
        by_then = [(cost, -at, orders) for at, cost, orders in seen if at <= mark]
        looks[mark] = scored(frame, min(by_then)[2], fill=fill) if by_then else None
    return looks


def _worth(look: Look | None) -> float:
    return float("inf") if look is None else look.cost


class _Watched(Searcher):
    """A search that notes each step's better plan, with the time."""

    team: list[_Watched]

    def __init__(self, *given: object, **named: object) -> None:
        super().__init__(*given, **named)  # type: ignore[arg-type]
        self.seen: Seen = [(perf_counter(), self.cost, self.orders())]
        self.team.append(self)

    def _step(self, done: float, rounds: int) -> None:
        super()._step(done, rounds)
        self._look()

    def join(self, parts: Sequence[Part], rounds: int) -> None:
        super().join(parts, rounds)
        self._look()

    def _look(self) -> None:
        if self.cost < self.seen[-1][1]:
            self.seen.append((perf_counter(), self.cost, self.orders()))


@contextmanager
def _watched() -> Iterator[list[_Watched]]:
    _Watched.team = []
    with patch.object(parallel, "Searcher", _Watched):
        yield _Watched.team
