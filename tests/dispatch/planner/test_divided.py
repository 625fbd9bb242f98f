"""A day in parts: nobody is lost or doubled by the cut, and the parts' costs make up the whole's."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from dispatch.planner.check import check
from dispatch.planner.compact import compact_of
from dispatch.planner.divided import cut, heat, part_of
from dispatch.planner.early import VISITS_FROM, early_rounds, early_s
from dispatch.planner.frame import frame_of
from dispatch.planner.parallel import search
from dispatch.planner.schedule import Timed, schedule
from dispatch.planner.search import Searcher
from dispatch.planner.solve import Limit, solve
from tests.dispatch.planner.random_days import random_day

days = st.tuples(st.integers(0, 10**6), st.integers(4, 24), st.integers(2, 6), st.integers(2, 4))


def _searcher(seed: int, visits: int, crews: int) -> Searcher:
    return Searcher(compact_of(frame_of(random_day(seed, visits, crews, begun=False))), seed)


@settings(max_examples=25, deadline=None)
@given(days)
def test_every_crew_and_every_visit_falls_to_one_part_and_a_route_stays_whole(drawn: tuple[int, ...]) -> None:
    seed, visits, crews, parts = drawn
    whole = _searcher(seed, visits, crews)
    sides = cut(whole.compact.day, whole.state, np.random.default_rng(seed), parts)
    assert sorted(c for of_part, _ in sides for c in of_part) == list(range(crews))
    assert sorted(v for _, of_part in sides for v in of_part) == list(range(len(whole.compact.visits)))
    for of_crews, of_visits in sides:
        assert {int(whole.state.at[v, 0]) for v in of_visits} - {-1} <= {int(c) for c in of_crews}


@settings(max_examples=25, deadline=None)
@given(days)
def test_parts_cost_together_what_the_whole_costs_before_and_after_their_search(drawn: tuple[int, ...]) -> None:
    seed, visits, crews, number = drawn
    whole = _searcher(seed, visits, crews)
    day, state, draws = whole.compact.day, whole.state, np.random.default_rng(seed)
    parts = [part_of(day, state, *side, seed) for side in cut(day, state, draws, number)]
    assert sum(int(part.state.total[0]) for part in parts) == int(state.total[0])
    for part in parts:
        heat(part, whole.unit, 50)
    now, best = (
        sum(int(cost[0]) for cost in costs)
        for costs in zip(*((p.state.total, p.best.cost) for p in parts), strict=True)
    )
    before = whole.cost
    whole.join(parts, 50 * number)
    assert int(state.total[0]) == now
    assert whole.cost == min(before, best)
    # The best is told in the whole day's own numbers: its routes cost what the parts said.
    whole.to_best()
    assert int(state.total[0]) == whole.cost


@settings(max_examples=25, deadline=None)
@given(days)
def test_the_routes_of_a_part_come_to_the_pool_with_the_whole_days_numbers(drawn: tuple[int, ...]) -> None:
    seed, visits, crews, number = drawn
    whole = _searcher(seed, visits, crews)
    day, state = whole.compact.day, whole.state
    parts = [part_of(day, state, *side, seed) for side in cut(day, state, np.random.default_rng(seed), number)]
    for part in parts:
        heat(part, whole.unit, 50)
    whole.join(parts, 0)
    pool = whole.pool
    routes = [
        (int(pool.crew[r]), tuple(pool.stops[pool.start[r] : pool.start[r + 1]].tolist())) for r in range(pool.held[0])
    ]
    assert len(routes) == len(set(routes)) == sum(int(part.pool.held[0]) for part in parts)
    frame, visit_of = whole.compact.frame, whole.compact.visits
    for (crew, nodes), cost in zip(routes, pool.cost, strict=False):
        timed = schedule(frame, crew, [*frame.begun[crew], *(visit_of[v] for v in nodes)])
        assert isinstance(timed, Timed)
        assert cost == timed.cost


def test_a_big_day_is_the_same_on_one_core_and_on_two() -> None:
    compact = compact_of(frame_of(random_day(5, VISITS_FROM + 20, 30, begun=False)))
    one, two = (search(compact, 3, iterations=400, cores=cores) for cores in (1, 2))
    assert (one.orders, one.cost, one.iterations) == (two.orders, two.cost, two.iterations)
    assert one.iterations >= 800


def test_a_big_day_passes_the_judge_by_the_clock_and_by_count() -> None:
    problem = random_day(6, VISITS_FROM, 24)
    for limit in (Limit(seconds=0.4), Limit(iterations=100)):
        plan = solve(problem, limit=limit, seed=1).plan
        assert plan.search.iterations > 0
        assert check(problem, plan) == ()


def test_the_early_search_has_its_share_of_a_long_run_and_all_of_a_short_one() -> None:
    assert early_s(400, 60.0) == 9.0
    assert early_s(400, 10.0) == 10.0
    assert early_s(400, 30.0) == 8.0
    assert early_rounds(200, 10**6) == 150_000
    assert early_rounds(200, 50_000) == 50_000
