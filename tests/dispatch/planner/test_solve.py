"""Whole days: what the planner makes of any problem passes the judge, and its price is the sum of its parts."""

from __future__ import annotations

from random import Random

import pytest
from hypothesis import given, settings

from dispatch.planner.check import check
from dispatch.planner.construct import greedy
from dispatch.planner.frame import frame_of
from dispatch.planner.plan import read_plan
from dispatch.planner.problem import Problem, read_problem
from dispatch.planner.solve import Limit, solve
from tests.dispatch.planner.days import random_day, random_days

ONCE = Limit(iterations=1)


@settings(max_examples=60, deadline=None)
@given(random_days())
def test_any_day_yields_a_plan_that_passes_the_judge(problem: Problem) -> None:
    plan = solve(problem, limit=ONCE, seed=1).plan
    assert check(problem, plan) == ()
    assert all(left.code and left.message for left in plan.skipped)


@settings(max_examples=40, deadline=None)
@given(random_days())
def test_the_running_total_of_a_draft_is_the_price_of_its_plan(problem: Problem) -> None:
    frame = frame_of(problem)
    draft = greedy(frame)
    plan = solve(problem, limit=ONCE, seed=1).plan
    terms = plan.cost
    assert terms.total == sum(
        (terms.driving, terms.crews, terms.lateness, terms.overtime, terms.moved, terms.preference, terms.skipped)
    )
    if not [v for v in draft.left_out if frame.visits[v].skip is None]:
        assert terms.total <= draft.cost(frame)


@settings(max_examples=40, deadline=None)
@given(random_days())
def test_problem_and_plan_come_back_from_json_as_they_were(problem: Problem) -> None:
    plan = solve(problem, limit=ONCE, seed=1).plan
    assert read_problem(problem.model_dump_json()) == problem
    assert read_plan(plan.model_dump_json()) == plan


@settings(max_examples=30, deadline=None)
@given(random_days(running=True))
def test_what_is_begun_never_moves(problem: Problem) -> None:
    plan = solve(problem, limit=ONCE, seed=1).plan
    routes = {route.crew: route for route in plan.routes}
    for crew in problem.crews:
        for begun, stop in zip(crew.begun, routes[crew.id].stops if crew.begun else (), strict=False):
            assert (stop.visit, stop.start_s, stop.leave_s) == (begun.visit, begun.start_s, begun.leave_s)


def test_starting_from_a_plan_is_never_worse_and_names_who_moves() -> None:
    for seed in range(20):
        problem = random_day(Random(seed), 10, 4, running=False)
        first = solve(problem, limit=ONCE, seed=1).plan
        again = solve(problem, limit=ONCE, seed=1, start=first)
        assert again.plan.cost.total <= first.cost.total
        was = {s.visit: (r.crew, s.start_s) for r in first.routes for s in r.stops}
        now = {s.visit: (r.crew, s.start_s) for r in again.plan.routes for s in r.stops}
        assert {m.visit for m in again.moves} == {v for v in was.keys() | now.keys() if was.get(v) != now.get(v)}


def test_an_impossible_must_serve_visit_is_named_and_the_rest_is_planned() -> None:
    problem = random_day(Random(4), 6, 3, running=False)
    crews = tuple(c.model_copy(update={"states": ("OR", "WA"), "skills": ("mould",)}) for c in problem.crews)
    visits = tuple(
        v.model_copy(update={"window_s": None, "only": None, "skip": None, "deliver": {}, "collect": {}})
        for v in problem.visits
    )
    odd = visits[0].model_copy(update={"skills": ("diving",)})
    problem = problem.model_copy(update={"crews": crews, "visits": (odd, *visits[1:])})
    plan = solve(problem, limit=ONCE, seed=1).plan
    assert [(s.visit, s.code) for s in plan.skipped] == [(odd.id, "skills")]
    assert "diving" in plan.skipped[0].message
    assert {s.visit for r in plan.routes for s in r.stops} == {v.id for v in visits[1:]}


def test_an_unknown_engine_is_refused() -> None:
    with pytest.raises(ValueError, match="no engine"):
        solve(random_day(Random(1)), limit=ONCE, seed=1, engine="magic")
