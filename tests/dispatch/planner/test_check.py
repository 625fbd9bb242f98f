"""The judge on a sound plan, and on the same plan with one fault planted: each is found under its own code."""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

import pytest

from dispatch.planner.check import check
from dispatch.planner.plan import Plan
from dispatch.planner.problem import Begun, Break, Crew, Place, Prices, Problem, Travel, UnderWay, Visit, build
from tests.dispatch.planner.days import planned

Written = dict[str, Any]

# Minutes of driving between base, three homes, and a second base; a little longer one way than the other.
MINUTES = ((0, 10, 20, 30, 5), (11, 0, 10, 20, 10), (21, 10, 0, 10, 10), (31, 20, 10, 0, 10), (5, 10, 10, 10, 0))
SECONDS = tuple(tuple(60 * m for m in row) for row in MINUTES)


def _day() -> Problem:
    """Three crews: one with a break and everything it needs, one running since morning, one with little."""
    lunch = Break(seconds=1_800, from_s=37_800, until_s=41_000)
    crews = [
        Crew(
            id="ada",
            start="base",
            end="base",
            from_s=28_800,
            until_s=42_000,
            at_latest_s=48_000,
            skills=("mould",),
            states=("OR", "WA"),
            capacity={"mover": 10},
            fixed=700,
            break_rule=lunch,
            driving_limit_s=12_000,
        ),
        Crew(
            id="bo",
            start="base",
            end=None,
            from_s=25_200,
            until_s=61_200,
            at_latest_s=68_400,
            states=("OR",),
            capacity={"mover": 2},
            break_rule=lunch,
            break_taken=(29_000, 30_800),
            begun=(Begun(visit="done", start_s=26_000, leave_s=29_000),),
            under_way=UnderWay(to="next", left_s=30_800),
        ),
        Crew(id="cy", start="depot", end="depot", from_s=25_200, until_s=61_200, at_latest_s=68_400),
    ]
    visits = [
        Visit(
            id="one", place="h1", service_s=3_600, window_s=(32_400, 34_000), skills=("mould",), deliver={"mover": 6}
        ),
        Visit(id="two", place="h2", service_s=3_600, due_s=36_500, per_late_second=2, state="WA", collect={"mover": 4}),
        Visit(id="three", place="h3", service_s=1_800, only=("ada",), prefer={"ada": 40, "*": 90}),
        Visit(id="done", place="h1", service_s=1_200, promised_s=25_000, per_moved_second=1),
        Visit(id="next", place="h2", service_s=1_200, promised_s=32_000, per_moved_second=1),
        Visit(id="last", place="h3", service_s=1_200, window_s=(40_000, 44_000), state="OR", only=("bo",)),
        Visit(id="far off", place="h3", service_s=600, skip=10, only=("cy",)),
        Visit(id="nobody", place="h3", service_s=600, skills=("diving",)),
    ]
    names = ("base", "h1", "h2", "h3", "depot")
    return build(
        crews,
        visits,
        [Place(id=n, lat=45.5, lon=-122.6) for n in names],
        now_s=31_000,
        prices=Prices(per_meter=1, per_driving_second=2, per_overtime_second=3),
        travel=Travel(seconds=SECONDS, meters=SECONDS),
    )


DAY = _day()
SOUND = planned(DAY)


def _route(plan: Written, crew: str) -> Written:
    found: Written = next(r for r in plan["routes"] if r["crew"] == crew)
    return found


def _stop(plan: Written, visit: str) -> Written:
    found: Written = next(s for r in plan["routes"] for s in r["stops"] if s["visit"] == visit)
    return found


def _shift(plan: Written, visit: str, by_s: int) -> None:
    stop = _stop(plan, visit)
    for key in ("arrive", "start", "leave"):
        stop[key] += by_s


def _move(plan: Written, visit: str, crew: str, at: int) -> None:
    stop = _stop(plan, visit)
    for route in plan["routes"]:
        route["stops"] = [s for s in route["stops"] if s["visit"] != visit]
    if not any(r["crew"] == crew for r in plan["routes"]):
        empty = {"crew": crew, "stops": [], "break": None, "end": 60_000}
        plan["routes"].append({**empty, "driving_s": 0, "driving_m": 0, "overtime_s": 0})
    _route(plan, crew)["stops"].insert(at, stop)


def _skip(plan: Written, visit: str) -> None:
    for route in plan["routes"]:
        route["stops"] = [s for s in route["stops"] if s["visit"] != visit]
    plan["skipped"].append({"visit": visit, "code": "price", "message": "planted"})


def test_the_plan_the_faults_are_planted_in_is_sound() -> None:
    assert check(DAY, SOUND) == ()
    assert [(r.crew, [s.visit for s in r.stops]) for r in SOUND.routes] == [
        ("ada", ["one", "two", "three"]),
        ("bo", ["done", "next", "last"]),
    ]
    assert _route(SOUND.to_json(), "ada")["break"] is not None


Fault = tuple[str, str, Callable[[Written], object]]


def _set(target: Callable[[Written], Written], **changes: Any) -> Callable[[Written], object]:
    return lambda plan: target(plan).update(changes)


def _ada(plan: Written) -> Written:
    return _route(plan, "ada")


def _bo(plan: Written) -> Written:
    return _route(plan, "bo")


FAULTS: list[Fault] = [
    ("a key nobody knows", "form", lambda p: p.update(colour="red")),
    ("a key left out", "form", lambda p: p.pop("bound")),
    ("a time that is no whole number", "form", _set(_ada, end=1.5)),
    ("true for a number", "form", _set(_ada, overtime_s=True)),
    ("a crew nobody knows", "crew_unknown", _set(_ada, crew="zoe")),
    ("a crew with two routes", "crew_twice", lambda p: p["routes"].append({**copy.deepcopy(_ada(p)), "stops": []})),
    ("a visit nobody knows", "visit_unknown", lambda p: _stop(p, "three").update(visit="four")),
    ("an unknown visit left out", "visit_unknown", lambda p: p["skipped"][0].update(visit="four")),
    ("a visit on two routes", "visit_twice", lambda p: _bo(p)["stops"].append(copy.deepcopy(_stop(p, "three")))),
    ("a visit twice on one route", "visit_twice", lambda p: _ada(p)["stops"].append(copy.deepcopy(_stop(p, "three")))),
    ("a visit planned and left out", "visit_twice", lambda p: p["skipped"].append({**p["skipped"][0], "visit": "one"})),
    ("a visit left out twice", "visit_twice", lambda p: p["skipped"].append(p["skipped"][0])),
    ("a visit forgotten", "visit_forgotten", lambda p: p["skipped"].pop()),
    ("a planned visit forgotten", "visit_forgotten", lambda p: _ada(p)["stops"].pop()),
    ("a must-serve visit left out", "must_serve", lambda p: _skip(p, "three")),
    ("a begun visit left out", "begun", lambda p: _skip(p, "done")),
    ("a begun visit moved in time", "begun", lambda p: _shift(p, "done", 60)),
    ("a begun visit that leaves earlier", "begun", lambda p: _stop(p, "done").update(leave=27_200)),
    ("a begun visit that arrives earlier", "begun", lambda p: _stop(p, "done").update(arrive=25_900)),
    ("a begun visit out of order", "begun", lambda p: _bo(p)["stops"].insert(0, _bo(p)["stops"].pop())),
    ("the begun route left out", "begun", lambda p: p["routes"].pop()),
    ("another stop before the one under way", "begun", lambda p: _bo(p)["stops"].insert(1, _bo(p)["stops"].pop())),
    ("the visit under way with another crew", "begun", lambda p: _move(p, "next", "ada", 0)),
    ("a skill missing", "skills", lambda p: _move(p, "one", "bo", 3)),
    ("a state without credentials", "state", lambda p: _move(p, "two", "bo", 3)),
    ("a crew not named", "only", lambda p: _move(p, "three", "bo", 3)),
    ("too much for the vehicle", "capacity", lambda p: _move(p, "one", "bo", 3)),
    ("a kind the vehicle cannot take", "capacity", lambda p: _move(p, "two", "cy", 0)),
    ("an arrival too early", "travel", lambda p: _stop(p, "two").update(arrive=_stop(p, "two")["arrive"] - 1)),
    ("a first arrival too early", "travel", lambda p: _stop(p, "one").update(arrive=29_399)),
    ("an arrival too early under way", "travel", lambda p: _stop(p, "next").update(arrive=31_399)),
    ("home too early", "travel_home", lambda p: _ada(p).update(end=_ada(p)["end"] - 1)),
    ("done before the last service ends", "travel_home", lambda p: _bo(p).update(end=_bo(p)["end"] - 1)),
    ("a start before the arrival", "start_before_arrival", lambda p: _stop(p, "two").update(arrive=40_000)),
    ("a start before the window", "window", lambda p: _stop(p, "one").update(start=32_399, leave=35_999)),
    ("a start after the window", "window", lambda p: _shift(p, "last", 4_001)),
    ("a drive before now", "now", lambda p: _stop(p, "one").update(arrive=31_599)),
    ("a start before now", "now", lambda p: _stop(p, "next").update(start=30_999, leave=32_199)),
    ("a service cut short", "service", lambda p: _stop(p, "three").update(leave=_stop(p, "three")["leave"] - 1)),
    ("a service drawn out", "service", lambda p: _stop(p, "last").update(leave=_stop(p, "last")["leave"] + 1)),
    ("the break during a service", "break_in_service", _set(_ada, **{"break": [37_900, 39_700]})),
    ("the break left out", "break_missing", _set(_ada, **{"break": None})),
    ("the break already had not shown", "break_missing", _set(_bo, **{"break": None})),
    ("another break than the one had", "break_unasked", _set(_bo, **{"break": [38_000, 39_800]})),
    ("a break for a crew without stops", "break_unasked", lambda p: _empty_with_break(p)),
    ("the break too short", "break_length", lambda p: _ada(p)["break"].__setitem__(1, _ada(p)["break"][1] - 1)),
    ("the break too long", "break_length", lambda p: _ada(p)["break"].__setitem__(1, _ada(p)["break"][1] + 1)),
    ("the break before its window", "break_window", _set(_ada, **{"break": [37_799, 39_599]})),
    ("the break after its window", "break_window", _set(_ada, **{"break": [41_001, 42_801]})),
    ("the break before now", "break_too_early", _set(_ada, **{"break": [30_000, 31_800]})),
    ("back after the latest end", "at_latest", _set(_ada, end=48_001, overtime_s=6_001)),
    ("driving stated in seconds", "stated_driving_s", lambda p: _ada(p).update(driving_s=_ada(p)["driving_s"] + 1)),
    ("driving stated in metres", "stated_driving_m", lambda p: _ada(p).update(driving_m=_ada(p)["driving_m"] - 1)),
    ("overtime stated", "stated_overtime_s", lambda p: _ada(p).update(overtime_s=_ada(p)["overtime_s"] + 1)),
    ("the bound above the cost", "bound", lambda p: p.update(bound={"value": p["cost"]["total"] + 1, "what": "pool"})),
]
TERMS = ("total", "driving", "crews", "lateness", "overtime", "moved", "preference", "skipped")


def _empty_with_break(plan: Written) -> None:
    empty = {"crew": "cy", "stops": [], "break": [38_000, 39_800], "end": 25_200}
    plan["routes"].append({**empty, "driving_s": 0, "driving_m": 0, "overtime_s": 0})


@pytest.mark.parametrize(("name", "code", "plant"), FAULTS, ids=[f[0] for f in FAULTS])
def test_a_planted_fault_is_found(name: str, code: str, plant: Callable[[Written], object]) -> None:
    plan = copy.deepcopy(SOUND.to_json())
    plant(plan)
    found = check(DAY, plan)
    assert code in {violation.code for violation in found}, found
    assert all(violation.message for violation in found)


@pytest.mark.parametrize("term", TERMS)
def test_a_cost_stated_wrongly_is_found(term: str) -> None:
    plan = SOUND.to_json()
    plan["cost"][term] += 1
    assert [v.code for v in check(DAY, plan)] == ["stated_cost"]


def test_more_driving_than_allowed_is_found() -> None:
    crews = tuple(c.model_copy(update={"driving_limit_s": 3_600}) for c in DAY.crews)
    found = check(DAY.model_copy(update={"crews": crews}), SOUND)
    driving_s = next(r.driving_s for r in SOUND.routes if r.crew == "ada")
    assert [(v.code, v.crew) for v in found if v.crew == "ada"] == [("driving_limit", "ada")]
    assert f"{driving_s - 3_600} s over" in found[0].message


def test_a_crew_that_ends_before_its_break_must_begin_is_owed_none() -> None:
    late = Break(seconds=1_800, from_s=37_800, until_s=60_000)
    crews = tuple(c.model_copy(update={"break_rule": late}) if c.id == "ada" else c for c in DAY.crews)
    found = check(DAY.model_copy(update={"crews": crews}), SOUND)
    assert [(v.code, v.crew) for v in found] == [("break_unasked", "ada")]


def test_a_crew_without_a_break_rule_is_owed_none() -> None:
    crews = tuple(c.model_copy(update={"break_rule": None}) if c.id == "ada" else c for c in DAY.crews)
    found = check(DAY.model_copy(update={"crews": crews}), SOUND)
    assert [(v.code, v.crew) for v in found] == [("break_unasked", "ada")]


def test_a_route_without_stops_may_stand_or_be_left_out() -> None:
    plan = SOUND.to_json()
    empty = {"crew": "cy", "stops": [], "break": None, "end": 25_200}
    plan["routes"].append({**empty, "driving_s": 0, "driving_m": 0, "overtime_s": 0})
    assert check(DAY, plan) == ()


def test_waiting_anywhere_is_free() -> None:
    plan = SOUND.to_json()
    stop = _stop(plan, "last")
    stop["arrive"] = stop["start"]
    assert check(DAY, plan) == ()


def test_deliveries_are_aboard_from_the_start_and_collections_to_the_end() -> None:
    """Six out and four back fit ten at once; seven back do not, although no stop alone is too much."""
    visits = tuple(v.model_copy(update={"collect": {"mover": 11}}) if v.id == "two" else v for v in DAY.visits)
    found = check(DAY.model_copy(update={"visits": visits}), SOUND)
    assert [(v.code, v.crew, v.visit) for v in found] == [("capacity", "ada", "two")]
    assert "1 of mover too many" in found[0].message


def test_a_plan_of_the_wrong_shape_is_one_violation() -> None:
    for shape in (None, [], 3, "plan", {}, {"format": 2}):
        assert [v.code for v in check(DAY, shape)] == ["form"]
    assert check(DAY, Plan())[0].code == "visit_forgotten"
