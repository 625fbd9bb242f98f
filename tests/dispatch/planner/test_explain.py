"""Reasons in a dispatcher's words, who moves between two plans, and what a changed day would bring."""

from __future__ import annotations

import pytest
from hypothesis import given, settings

from dispatch.planner.explain import moves, why_not
from dispatch.planner.frame import frame_of
from dispatch.planner.insertion import best_spot
from dispatch.planner.offers import standing_of
from dispatch.planner.plan import Plan
from dispatch.planner.problem import Break, Crew, Place, Prices, Problem, Refused, Travel, UnderWay, Visit, build
from dispatch.planner.solve import Limit
from dispatch.planner.whatif import longer_shift, one_more_crew, what_if, wider_window
from dispatch.planner.words import duration
from tests.dispatch.planner.days import planned, random_days

ONCE = Limit(iterations=1)
HOUR = 3_600


def _day(visit: Visit, crew: Crew | None = None, *others: Visit) -> Problem:
    """Everything half an hour apart, one crew on from eight to four."""
    drive = ((0, 1_800, 1_800), (1_800, 0, 1_800), (1_800, 1_800, 0))
    places = [Place(id=n, lat=45, lon=-122) for n in ("base", "here", "there")]
    travel = Travel(seconds=drive, meters=drive)
    return build([crew or _crew()], [visit, *others], places, travel=travel, prices=Prices())


def _crew(**changes: object) -> Crew:
    usual = Crew(
        id="ada",
        start="base",
        end="base",
        from_s=8 * HOUR,
        until_s=16 * HOUR,
        at_latest_s=18 * HOUR,
        skills=("drying",),
        states=("OR",),
        capacity={"mover": 4},
    )
    return usual.model_copy(update=changes)


def _visit(**changes: object) -> Visit:
    return Visit(id="flood", place="here", service_s=HOUR).model_copy(update=changes)


CASES: list[tuple[str, Problem, str, str]] = [
    ("skill", _day(_visit(skills=("mould",))), "skills", "lacks the skill mould"),
    ("state", _day(_visit(state="WA")), "state", "may not work in WA"),
    ("named", _day(_visit(only=())), "only", "kept for nobody"),
    ("room", _day(_visit(deliver={"mover": 9})), "capacity", "5 too little room for mover"),
    ("no room", _day(_visit(collect={"scrubber": 1})), "capacity", "1 too little room for scrubber"),
    ("window", _day(_visit(window_s=(0, 8 * HOUR))), "window", "arrive 30 min after the window"),
    ("end", _day(_visit(service_s=10 * HOUR)), "at_latest", "end its day 1 h after its latest end"),
    ("driving", _day(_visit(), _crew(driving_limit_s=3_000)), "driving_limit", "drive 10 min more than its limit"),
    (
        "break",
        _day(_visit(), _crew(break_rule=Break(seconds=1_800, from_s=7 * HOUR, until_s=7 * HOUR + 60))),
        "break_missing",
        "no time left for the break",
    ),
]


@pytest.mark.parametrize(("name", "problem", "code", "words"), CASES, ids=[c[0] for c in CASES])
def test_a_visit_left_out_names_the_rule_that_binds(name: str, problem: Problem, code: str, words: str) -> None:
    (left_out,) = planned(problem).skipped
    assert left_out.code == code
    assert words in left_out.message


def test_a_visit_that_costs_more_than_its_price_says_so() -> None:
    (left_out,) = planned(_day(_visit(skip=3_599))).skipped
    assert (left_out.code, left_out.message.count("3600")) == ("price", 1)
    assert planned(_day(_visit(skip=3_601))).skipped == ()


def test_a_day_without_crews_says_so() -> None:
    problem = _day(_visit()).model_copy(update={"crews": ()})
    (left_out,) = planned(problem).skipped
    assert left_out.code == "no_crew"


def test_a_full_day_names_whose_window_it_would_break() -> None:
    fixed = Visit(id="fixed", place="there", service_s=HOUR, window_s=(9 * HOUR, 9 * HOUR))
    problem = _day(_visit(window_s=(8 * HOUR, 9 * HOUR)), None, fixed)
    (left_out,) = planned(problem).skipped
    assert left_out.code == "window"
    assert "1 h after the window" in left_out.message or "too late for the window" in left_out.message


def test_a_visit_another_crew_is_driving_to_is_not_given_away() -> None:
    away = _crew(id="bo", under_way=UnderWay(to="flood", left_s=0))
    problem = _day(_visit()).model_copy(update={"crews": (_crew(), away)})
    standing = standing_of(problem, Plan())
    barred = why_not(standing.outlooks[0], 0)
    assert barred is not None
    assert barred.code == "begun"


@settings(max_examples=40, deadline=None)
@given(random_days())
def test_a_reason_is_given_exactly_where_no_place_is(problem: Problem) -> None:
    standing = standing_of(problem, planned(problem))
    for v in range(len(problem.visits)):
        if any(v in route.visits for route in standing.routes) or v in standing.frame.under_way_by:
            continue
        for outlook in standing.outlooks:
            reason = why_not(outlook, v)
            assert (reason is None) == (best_spot(outlook, v, {}) is not None)


def test_moves_tell_who_by_how_much_and_why() -> None:
    problem = _day(_visit(), None, Visit(id="late", place="there", service_s=60, window_s=(12 * HOUR, 13 * HOUR)))
    before = planned(problem)
    later = problem.model_copy(
        update={
            "visits": (problem.visits[0].model_copy(update={"window_s": (10 * HOUR, 11 * HOUR)}), problem.visits[1])
        }
    )
    (move,) = moves(frame_of(problem), before, planned(later))
    assert (move.visit, move.crew_before, move.crew_after) == ("flood", "ada", "ada")
    assert move.start_after_s == 10 * HOUR
    assert "1 h 30 min later" in move.why
    assert moves(frame_of(problem), before, before) == ()


def test_one_more_crew_serves_what_was_left_out() -> None:
    busy = Visit(id="busy", place="there", service_s=8 * HOUR)
    problem = _day(_visit(), None, busy)
    plan = planned(problem)
    assert len(plan.skipped) == 1
    answer = what_if(problem, plan, one_more_crew(problem, _crew(id="bo")), limit=ONCE, seed=1)
    assert answer.newly_served == (plan.skipped[0].visit,)
    assert "1 more served" in answer.told


def test_a_wider_window_serves_what_came_too_late() -> None:
    problem = _day(_visit(window_s=(7 * HOUR, 8 * HOUR)))
    plan = planned(problem)
    answer = what_if(problem, plan, wider_window(problem, "flood", HOUR), limit=ONCE, seed=1)
    assert answer.newly_served == ("flood",)
    assert answer.newly_left_out == ()


def test_a_longer_shift_saves_overtime() -> None:
    problem = _day(_visit(service_s=8 * HOUR))
    plan = planned(problem)
    answer = what_if(problem, plan, longer_shift(problem, "ada", 20 * HOUR), limit=ONCE, seed=1)
    assert answer.saved == answer.overtime_saved_s == HOUR
    assert "1 h less overtime" in answer.told


def test_an_impossible_change_is_refused() -> None:
    problem = _day(_visit())
    with pytest.raises(Refused, match="stands twice"):
        one_more_crew(problem, _crew())
    with pytest.raises(Refused, match="no arrival window"):
        wider_window(problem, "flood", HOUR)
    with pytest.raises(Refused, match="not one of the visits"):
        wider_window(problem, "fire", HOUR)
    with pytest.raises(Refused, match="not one of the crews"):
        longer_shift(problem, "zoe", 20 * HOUR)


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0, "0 s"), (59, "59 s"), (60, "1 min"), (61, "2 min"), (3_600, "1 h"), (4_800, "1 h 20 min")],
)
def test_durations_are_told_as_people_do(seconds: int, words: str) -> None:
    assert duration(seconds) == words
