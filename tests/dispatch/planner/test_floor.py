"""The cheap bound holds: an independent exact model never finds a cheaper day."""

from __future__ import annotations

from random import Random

from hypothesis import given, settings
from hypothesis import strategies as st

from dispatch.planner.floor import floor_of
from dispatch.planner.frame import frame_of
from tests.dispatch.planner.days import random_day
from tests.dispatch.planner.exact_model import optimum


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10**6))
def test_no_day_costs_less_than_the_floor(seed: int) -> None:
    problem = random_day(Random(seed), visits=4, crews=2, running=False)
    floor = floor_of(frame_of(problem))
    assert 0 <= floor <= optimum(problem)[1]


def test_the_floor_is_above_nothing_on_an_ordinary_day() -> None:
    problem = random_day(Random(7), visits=8, crews=3, running=False)
    open_to_price = problem.model_copy(
        update={"visits": tuple(v.model_copy(update={"skip": 10**6}) for v in problem.visits)}
    )
    assert floor_of(frame_of(open_to_price)) > 0
