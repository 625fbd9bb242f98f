"""One route's times against every possibility tried out, and the judge's word on what the planner makes of a day."""

from __future__ import annotations

import random
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dispatch.planner.fitting import Misfit
from dispatch.planner.frame import frame_of
from dispatch.planner.problem import Break, Crew, Place, Prices, Problem, Travel, Visit, build
from dispatch.planner.schedule import Timed, as_route, schedule
from dispatch.planner.timing import NEVER_S, Leg, cheapest
from tests.dispatch.planner.days import tiny_day, tiny_days
from tests.dispatch.planner.every_way import cheapest_route


def _agrees(problem: Problem) -> None:
    frame = frame_of(problem)
    begun = frame.begun[0]
    for order in permutations(range(len(problem.visits))):
        if order[: len(begun)] != begun or order == begun:
            continue
        found = schedule(frame, 0, order)
        least = cheapest_route(problem, [problem.visits[v].id for v in order])
        assert (found.cost if isinstance(found, Timed) else None) == least, found


@settings(max_examples=15, deadline=None)
@given(tiny_days())
def test_the_cheapest_times_are_those_of_every_possibility_tried(problem: Problem) -> None:
    _agrees(problem)


@pytest.mark.long
def test_the_cheapest_times_of_three_hundred_tiny_days() -> None:
    for seed in range(300):
        _agrees(tiny_day(random.Random(seed)))


LEGS = st.builds(
    Leg,
    after_s=st.integers(0, 4),
    early_s=st.one_of(st.just(-NEVER_S), st.integers(0, 12)),
    late_s=st.one_of(st.just(NEVER_S), st.integers(4, 20)),
    due_s=st.integers(0, 15),
    per_late_second=st.integers(0, 3),
    promised_s=st.integers(0, 15),
    per_moved_second=st.integers(0, 5),
)


def _cost_at(leg: Leg, at_s: int) -> int:
    return leg.per_late_second * max(0, at_s - leg.due_s) + leg.per_moved_second * abs(at_s - leg.promised_s)


def _least_by_table(legs: list[Leg]) -> int | None:
    """The least cost by a table over every second."""
    horizon = 60
    table: dict[int, int] = {0: 0}
    for leg in legs:
        longer: dict[int, int] = {}
        for at_s in range(horizon):
            if leg.early_s <= at_s <= leg.late_s:
                before = [cost for was_s, cost in table.items() if was_s + leg.after_s <= at_s]
                if before:
                    longer[at_s] = min(before) + _cost_at(leg, at_s)
        table = longer
    return min(table.values(), default=None)


@settings(max_examples=300, deadline=None)
@given(st.lists(LEGS, min_size=1, max_size=6))
def test_starts_cost_what_a_table_over_every_second_says(legs: list[Leg]) -> None:
    starts = cheapest(legs)
    if isinstance(starts, int):
        assert _least_by_table(legs) is None
        return
    assert all(b >= a + leg.after_s for a, b, leg in zip([0, *starts], starts, legs, strict=False))
    assert all(leg.early_s <= s <= leg.late_s for s, leg in zip(starts, legs, strict=True))
    assert sum(_cost_at(leg, s) for s, leg in zip(starts, legs, strict=True)) == _least_by_table(legs)


def _long_drive(rule: Break, *, end: str | None = "base", window: tuple[int, int] | None = None) -> Problem:
    """One visit two hours away from base."""
    drive = ((0, 7_200), (7_200, 0))
    crew = Crew(id="c", start="base", end=end, from_s=28_800, until_s=61_200, at_latest_s=68_400, break_rule=rule)
    return build(
        [crew],
        [Visit(id="v", place="far", service_s=3_600, window_s=window)],
        [Place(id="base", lat=45, lon=-122), Place(id="far", lat=46, lon=-122)],
        travel=Travel(seconds=drive, meters=drive),
        prices=Prices(),
    )


def test_the_break_falls_into_the_drive_when_only_there_is_time() -> None:
    problem = _long_drive(Break(seconds=1_800, from_s=30_000, until_s=31_000))
    found = schedule(frame_of(problem), 0, [0])
    assert isinstance(found, Timed)
    assert found.break_span == (30_000, 31_800)
    route = as_route(frame_of(problem), 0, found)
    assert route.stops[0].arrive_s == 28_800 + 7_200 + 1_800
    assert route.end_s == 28_800 + 7_200 + 1_800 + 3_600 + 7_200


def test_the_break_waits_at_the_door_for_a_window_that_opens_later() -> None:
    problem = _long_drive(Break(seconds=1_800, from_s=30_000, until_s=40_000), window=(38_000, 39_000))
    found = schedule(frame_of(problem), 0, [0])
    assert isinstance(found, Timed)
    assert found.starts_s == (38_000,)
    assert found.break_span == (36_000, 37_800)
    assert as_route(frame_of(problem), 0, found).stops[0].arrive_s == 36_000


def test_no_break_is_owed_by_a_crew_that_ends_in_time() -> None:
    problem = _long_drive(Break(seconds=1_800, from_s=30_000, until_s=47_000))
    found = schedule(frame_of(problem), 0, [0])
    assert isinstance(found, Timed)
    assert (found.break_span, found.end_s) == (None, 46_800)


def test_the_break_on_the_way_home_counts_into_the_end() -> None:
    problem = _long_drive(Break(seconds=1_800, from_s=39_600, until_s=41_000))
    found = schedule(frame_of(problem), 0, [0])
    assert isinstance(found, Timed)
    assert (found.break_span, found.end_s) == ((39_600, 41_400), 48_600)


def test_a_crew_whose_day_allows_no_break_is_told_so() -> None:
    problem = _long_drive(Break(seconds=1_800, from_s=20_000, until_s=28_000))
    assert schedule(frame_of(problem), 0, [0]) == Misfit("break_missing")
