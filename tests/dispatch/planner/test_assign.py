"""Choosing from the pool: never worse than the plan in hand, bounds that hold, a process that ends when it must."""

from __future__ import annotations

from itertools import permutations
from time import perf_counter

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from dispatch.planner.assign import choose, cost_of
from dispatch.planner.assigner import Assigner
from dispatch.planner.columns import Choice, Columns, choice_of, crewed, pooled, with_routes
from dispatch.planner.compact import BOUND_FOR, END, LIKE, LOCKED, Compact, compact_of
from dispatch.planner.enumeration import every_route
from dispatch.planner.frame import frame_of
from dispatch.planner.kernels import COST, STOPS, empty_state, refresh
from dispatch.planner.proof import routes_of
from dispatch.planner.search import Searcher
from tests.dispatch.planner.random_days import random_day


def _pool(seed: int, rounds: int = 60) -> tuple[Compact, Searcher, Columns, Choice, tuple[int, ...]]:
    compact = compact_of(frame_of(random_day(seed, 12, 3)))
    searcher = Searcher(compact, seed)
    searcher.run_rounds(rounds)
    columns, held = with_routes(pooled([searcher.pool]), routes_of(searcher))
    return compact, searcher, columns, choice_of(compact.day), held


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10**6))
def test_the_choice_is_never_worse_than_the_plan_in_hand_and_its_bound_holds(seed: int) -> None:
    _, searcher, columns, choice, held = _pool(seed)
    if not held:
        return
    assert cost_of(columns, choice, held) == searcher.cost
    chosen = choose(columns, choice, held)
    assert chosen.cost <= searcher.cost
    assert chosen.cost == cost_of(columns, choice, chosen.picked)
    assert chosen.bound <= chosen.cost
    served = [v for row in crewed(columns, choice, chosen.picked) for v in row]
    assert len(served) == len(set(served))


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10**6))
def test_no_plan_made_of_pooled_routes_is_below_the_bound(seed: int) -> None:
    """The search's own best plan is one of those, so a bound from a much smaller pool must not pass it."""
    compact, searcher, columns, choice, held = _pool(seed, rounds=300)
    if not held:
        return
    worse = Searcher(compact, seed + 1)
    first, start = with_routes(columns, routes_of(worse))
    bound = choose(first, choice, start).bound
    assert bound <= searcher.cost


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10**6))
def test_enumeration_finds_the_cheapest_order_of_every_set(seed: int) -> None:
    day = compact_of(frame_of(random_day(seed, 5, 2, promised=False))).day
    columns = every_route(day)
    assert columns is not None
    state = empty_state(day)
    best: dict[tuple[int, frozenset[int]], int] = {}
    for c in range(len(day.crew)):
        for n in range(1, len(day.visit) + 1):
            for order in permutations(range(len(day.visit)), n):
                locked = day.crew[c, LOCKED] and order[0] != day.crew[c, BOUND_FOR]
                if locked or any(day.assign[v, c] < 0 for v in order):
                    continue
                state.node[c, 1 : n + 1], state.node[c, n + 1], state.route[c, STOPS] = order, day.crew[c, END], n
                if refresh(day, state, c):
                    key = (int(day.crew[c, LIKE]), frozenset(order))
                    best[key] = min(best.get(key, 2**62), int(state.route[c, COST]))
    listed = range(len(columns))
    found = {(int(day.crew[columns.crew[j], LIKE]), frozenset(columns.route(j))): int(columns.cost[j]) for j in listed}
    assert found == best


def test_the_process_answers_as_the_function_does() -> None:
    _, _, columns, choice, held = _pool(5, rounds=200)
    with Assigner() as assigner:
        answer = assigner.choose(columns, choice, held, None)
    assert answer is not None
    assert answer.cost == choose(columns, choice, held).cost


def test_a_process_that_is_late_is_killed_and_the_plan_in_hand_stands() -> None:
    _, _, columns, choice, held = _pool(5)
    with Assigner() as assigner:
        asked_at = perf_counter()
        answer = assigner.choose(columns, choice, held, 0.0)
        assert answer is None or answer.cost <= cost_of(columns, choice, held)
        assert perf_counter() - asked_at < 30
        assert assigner._process.wait(30) is not None


def test_crews_that_are_alike_share_a_group_and_routes_go_to_either() -> None:
    choice = Choice(np.zeros(2, np.int64), np.array([2]), np.zeros(2, np.int64), np.zeros(1, np.int64), np.ones(2))
    columns = Columns(np.array([0, 0]), np.array([5, 6]), np.array([0, 1, 2]), np.array([0, 1], dtype=np.int32))
    assert crewed(columns, choice, (0, 1)) == [[0], [1]]
