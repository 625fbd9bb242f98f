"""The search: sound plans, never worse than greedy, repeatable whatever the cores."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dispatch.planner.check import check
from dispatch.planner.compact import compact_of
from dispatch.planner.construct import greedy
from dispatch.planner.frame import frame_of
from dispatch.planner.parallel import search
from dispatch.planner.plan import Plan
from dispatch.planner.search import Searcher
from dispatch.planner.solve import Limit, solve
from tests.dispatch.planner.random_days import random_day


def _but_the_seconds(plan: Plan) -> dict[str, object]:
    shown = plan.to_json()
    shown["search"].pop("seconds")
    return shown


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**6), st.integers(1, 14), st.integers(1, 4))
def test_a_plan_passes_the_judge_and_is_never_worse_than_greedy(seed: int, visits: int, crews: int) -> None:
    problem = random_day(seed, visits, crews)
    frame = frame_of(problem)
    plan = solve(problem, limit=Limit(iterations=100), seed=seed).plan
    assert check(problem, plan) == ()
    musts = sum(1 for s in plan.skipped if frame.visits[frame.visit_at[s.visit]].skip is None)
    assert (musts, plan.cost.total) <= greedy(frame).worth(frame)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10**6))
def test_the_same_seed_and_iterations_give_the_same_plan(seed: int) -> None:
    problem = random_day(seed, 12, 3)
    first, again = (solve(problem, limit=Limit(iterations=200), seed=seed).plan for _ in range(2))
    assert _but_the_seconds(first) == _but_the_seconds(again)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10**6))
def test_the_number_of_cores_changes_nothing(seed: int) -> None:
    compact = compact_of(frame_of(random_day(seed, 12, 3)))
    one, two = (search(compact, seed, iterations=200, cores=cores) for cores in (1, 2))
    assert (one.orders, one.cost, one.iterations) == (two.orders, two.cost, two.iterations)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10**6))
def test_starting_from_a_plan_never_ends_worse_than_it(seed: int) -> None:
    problem = random_day(seed, 10, 3)
    before = solve(problem, limit=Limit(iterations=50), seed=1).plan
    after = solve(problem, limit=Limit(iterations=1), seed=2, start=before).plan
    assert after.cost.total <= before.cost.total or len(after.skipped) < len(before.skipped)


def test_a_search_by_the_clock_ends_by_the_clock() -> None:
    problem = random_day(3, 12, 3)
    solve(problem, limit=Limit(iterations=1), seed=1)
    told = []
    plan = solve(problem, limit=Limit(seconds=0.6), seed=1, on_progress=told.append).plan
    assert plan.search.iterations > 0
    assert told[-1].cost == plan.cost.total


@pytest.mark.parametrize(("visits", "crews"), [(0, 0), (0, 2), (3, 0)])
def test_a_day_with_nothing_to_choose_is_still_a_plan(visits: int, crews: int) -> None:
    problem = random_day(1, visits, crews, begun=False) if crews else _without_crews(visits)
    plan = solve(problem, limit=Limit(iterations=5), seed=1).plan
    assert check(problem, plan) == ()
    assert len(plan.skipped) == (visits if not crews else len(plan.skipped))


def _without_crews(visits: int) -> object:
    problem = random_day(1, visits, 1, begun=False)
    bare = [v.model_copy(update={"only": None, "prefer": {}}) for v in problem.visits]
    return problem.model_copy(update={"crews": (), "visits": tuple(bare)})


def test_a_start_that_no_longer_holds_is_left_aside() -> None:
    compact = compact_of(frame_of(random_day(2, 10, 2, begun=False)))
    everything = list(range(10))
    searcher = Searcher(compact, 1, [everything, []])
    assert searcher.cost == Searcher(compact, 1).cost
