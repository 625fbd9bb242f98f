"""Published promises: one moves only where that saves more than its stated price, by exact optima of small days."""

from __future__ import annotations

from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dispatch.planner.check import check
from dispatch.planner.cost import moved_cost
from dispatch.planner.plan import Plan
from dispatch.planner.problem import Problem, Visit
from dispatch.planner.solve import Limit, solve
from tests.dispatch.planner.days import planned, random_day
from tests.dispatch.planner.exact_model import optimum

TOGETHER_S = 7_200


def _promised(problem: Problem, plan: Plan, per_moved_second: int) -> Problem:
    """The day after publication: every start is promised, and one new visit has come in."""
    starts = {stop.visit: stop.start_s for route in plan.routes for stop in route.stops}

    def after(visit: Visit) -> Visit:
        told = {"promised_s": starts.get(visit.id), "per_moved_second": per_moved_second}
        return visit.model_copy(update=told if visit.id in starts else {"promised_s": None, "per_moved_second": 0})

    return problem.model_copy(update={"visits": tuple(after(visit) for visit in problem.visits)})


def _pinned(problem: Problem, visit_id: str) -> Problem:
    """The same day in which this one promise may not move at all."""

    def pin(visit: Visit) -> Visit:
        if visit.id != visit_id or visit.promised_s is None:
            return visit
        return visit.model_copy(update={"window_s": (visit.promised_s, visit.promised_s)})

    return problem.model_copy(update={"visits": tuple(pin(visit) for visit in problem.visits)})


def _day(seed: int) -> tuple[Problem, Plan]:
    rng = Random(seed)
    whole = random_day(rng, visits=5, crews=2, running=False)
    priced = whole.model_copy(
        update={"visits": tuple(v.model_copy(update={"skip": v.skip or 120_000}) for v in whole.visits)}
    )
    # The last visit is the one that nobody knew of when the routes were published.
    known = priced.model_copy(update={"visits": priced.visits[:-1]})
    published = planned(known)
    return _promised(priced, published, rng.choice([1, 3])), published


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10**6))
def test_a_promised_start_moves_only_where_that_saves_more_than_its_price(seed: int) -> None:
    problem, published = _day(seed)
    plan = solve(problem, limit=Limit(iterations=200), seed=1, start=published).plan
    assert check(problem, plan) == ()
    starts = {stop.visit: stop.start_s for route in plan.routes for stop in route.stops}
    for visit in problem.visits:
        if visit.promised_s is None or visit.id not in starts or starts[visit.id] == visit.promised_s:
            continue
        price = moved_cost(visit, starts[visit.id])
        kept = optimum(_pinned(problem, visit.id))[1]
        saving = kept - (plan.cost.total - price)
        assert saving >= price


@pytest.mark.parametrize("per_moved_second", [0, 1_000])
def test_a_price_beyond_any_saving_keeps_every_promise(per_moved_second: int) -> None:
    """The other way round: with promises free, some start of some day does move."""
    moved = 0
    for seed in range(6):
        problem, published = _day(seed)
        told = _promised(problem, published, per_moved_second)
        plan = solve(told, limit=Limit(iterations=50), seed=1, start=published).plan
        moved += sum(
            visit.promised_s is not None and stop.start_s != visit.promised_s
            for route in plan.routes
            for stop in route.stops
            for visit in told.visits
            if visit.id == stop.visit
        )
    assert (moved == 0) == (per_moved_second == 1_000)


def test_a_small_published_day_is_proven_and_its_proof_is_the_exact_optimum() -> None:
    for seed in range(4):
        problem, published = _day(seed)
        plan = solve(problem, limit=Limit(iterations=20), seed=1, start=published).plan
        assert plan.bound is not None
        assert plan.bound.what == "proven"
        must_left = sum(v.id in {s.visit for s in plan.skipped} for v in problem.visits if v.skip is None)
        assert (must_left, plan.cost.total) == optimum(problem)
