"""Small days against an exact model of their own, and against OR-Tools' routing model."""

from __future__ import annotations

from random import Random

import pytest

from dispatch.planner import routing
from dispatch.planner.compact import compact_of
from dispatch.planner.finish import draft_of
from dispatch.planner.frame import frame_of
from dispatch.planner.problem import Problem
from dispatch.planner.solve import Limit, solve
from tests.dispatch.planner.exact_model import optimum
from tests.dispatch.planner.random_days import HOUR, random_day

# About three seconds on two cores.
ITERATIONS = 150_000


def small_day(seed: int, most: int = 9) -> Problem:
    """A whole day with narrow windows and full visits, so that every order can be tried; 8 to ``most`` visits."""
    rng = Random(seed)
    problem = random_day(seed, rng.randint(8, most), rng.randint(3, 5), begun=False, promised=seed % 2 == 0)
    visits = []
    for visit in problem.visits:
        opens = rng.randrange(7 * HOUR, 15 * HOUR, 60)
        window = visit.window_s or (opens, opens + 2 * HOUR)
        visits.append(visit.model_copy(update={"window_s": window, "service_s": visit.service_s + 1800}))
    return problem.model_copy(update={"visits": tuple(visits)})


def _found(problem: Problem, **how: object) -> tuple[int, int]:
    frame = frame_of(problem)
    plan = solve(problem, seed=1, **how).plan  # type: ignore[arg-type]
    musts = sum(frame.visits[frame.visit_at[s.visit]].skip is None for s in plan.skipped)
    return musts, plan.cost.total


@pytest.mark.parametrize("seed", range(10))
def test_the_search_finds_the_optimum_of_a_small_day(seed: int) -> None:
    problem = small_day(seed)
    assert _found(problem, limit=Limit(iterations=2_000), prove=False) == optimum(problem)


@pytest.mark.parametrize("seed", range(20, 30))
def test_a_proven_plan_is_the_optimum(seed: int) -> None:
    problem = small_day(seed)
    plan = solve(problem, limit=Limit(iterations=1), seed=1).plan
    if plan.bound is not None and plan.bound.what == "proven":
        assert _found(problem, limit=Limit(iterations=1)) == optimum(problem)
        assert plan.bound.value == plan.cost.total
    else:
        assert any(v.per_moved_second for v in problem.visits), "only promises with a price are left to the search"


@pytest.mark.long
def test_the_search_finds_at_least_98_of_100_optima() -> None:
    missed = []
    for seed in range(100, 200):
        problem = small_day(seed, most=20)
        if _found(problem, limit=Limit(iterations=ITERATIONS), prove=False) != optimum(problem):
            missed.append(seed)
    assert len(missed) <= 2, missed


@pytest.mark.parametrize("seed", range(50))
def test_the_cost_agrees_with_the_routing_model_to_the_unit(seed: int) -> None:
    """Where that model says the whole problem: no break, and not a due time and a promise on one visit."""
    problem = random_day(seed, 8, 3, begun=False)
    crews = [crew.model_copy(update={"break_rule": None}) for crew in problem.crews]
    visits = [
        visit if visit.promised_s is None else visit.model_copy(update={"due_s": None}) for visit in problem.visits
    ]
    problem = problem.model_copy(update={"crews": tuple(crews), "visits": tuple(visits)})
    frame = frame_of(problem)
    compact = compact_of(frame)
    found = routing.routes(compact, seconds=2.0, solutions=15)
    assert found is not None
    musts, cost = draft_of(frame, routing.orders(compact, found[0])).worth(frame)
    assert musts * compact.must_price + cost == found[1]


@pytest.mark.parametrize("seed", range(4))
def test_the_second_engine_gives_sound_plans(seed: int) -> None:
    problem = random_day(seed, 9, 3)
    plan = solve(problem, limit=Limit(iterations=10), seed=1, engine="routing").plan
    assert plan.bound is None
    assert len(plan.skipped) + sum(len(route.stops) for route in plan.routes) == len(problem.visits)
