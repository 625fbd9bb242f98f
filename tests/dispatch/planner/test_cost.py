"""The cost of a day worked out by hand, term by term, and its exactness where floating point would round."""

from __future__ import annotations

from dispatch.planner.check import check
from dispatch.planner.cost import plan_cost
from dispatch.planner.frame import frame_of
from dispatch.planner.plan import Cost, Plan, Route, Skipped, Stop
from dispatch.planner.problem import Begun, Crew, Place, Prices, Problem, Travel, Visit, build


def _day() -> Problem:
    """
    Base to A 600 s and 5,000 m, A to B 900 s and 8,000 m, B to base 1,200 s and 10,000 m; back ways are longer.
    """
    seconds = ((0, 600, 1_300), (700, 0, 900), (1_200, 1_000, 0))
    meters = ((0, 5_000, 11_000), (5_500, 0, 8_000), (10_000, 8_500, 0))
    ann = Crew(
        id="ann",
        start="base",
        end="base",
        from_s=0,
        until_s=7_000,
        at_latest_s=9_000,
        fixed=1_000,
        begun=(Begun(visit="a", start_s=650, leave_s=1_800),),
    )
    idle = Crew(id="idle", start="base", end="base", from_s=0, until_s=7_000, at_latest_s=9_000, fixed=5_555)
    visits = [
        Visit(id="a", place="A", service_s=1_000, due_s=600, per_late_second=4, prefer={"idle": 0, "*": 30}),
        Visit(id="b", place="B", service_s=3_600, promised_s=2_500, per_moved_second=7, prefer={"ann": 11}),
        Visit(id="c", place="B", service_s=3_600, skip=1_234),
        Visit(id="d", place="B", service_s=99_999),
    ]  # fmt: skip
    places = [Place(id=name, lat=45, lon=-122) for name in ("base", "A", "B")]
    prices = Prices(per_meter=2, per_driving_second=3, per_overtime_second=5)
    return build([ann, idle], visits, places, now_s=700, travel=Travel(seconds=seconds, meters=meters), prices=prices)


BY_HAND = Cost(
    driving=2 * (5_000 + 8_000 + 10_000) + 3 * (600 + 900 + 1_200),
    crews=1_000,
    lateness=4 * 50,
    overtime=5 * 500,
    moved=7 * 200,
    preference=30 + 11,
    skipped=1_234,
    total=46_000 + 8_100 + 1_000 + 200 + 2_500 + 1_400 + 41 + 1_234,
)
ROUTE = Route(
    crew="ann",
    stops=(
        Stop(visit="a", arrive_s=650, start_s=650, leave_s=1_800),
        Stop(visit="b", arrive_s=2_700, start_s=2_700, leave_s=6_300),
    ),
    end_s=7_500,
    driving_s=2_700,
    driving_m=23_000,
    overtime_s=500,
)


def test_every_term_is_what_it_is_by_hand() -> None:
    frame = frame_of(_day())
    left_out = [v for v in frame.visits if v.id in {"c", "d"}]
    assert plan_cost(frame, [ROUTE], left_out) == BY_HAND


def test_the_judge_works_out_the_same() -> None:
    why = [Skipped(visit=name, code="price", message="for the test") for name in ("c", "d")]
    plan = Plan(routes=(ROUTE,), skipped=tuple(why), cost=BY_HAND)
    assert check(_day(), plan) == ()


def test_a_route_without_stops_costs_nothing() -> None:
    empty = Route(crew="idle", end_s=50_000)
    assert plan_cost(frame_of(_day()), [empty], []) == Cost()


def test_costs_stay_exact_beyond_what_floating_point_holds() -> None:
    visit = Visit(id="v", place="A", service_s=1, due_s=0, per_late_second=10**9)
    crew = Crew(id="c", start="base", end=None, from_s=0, until_s=9_000_000, at_latest_s=9_000_000, fixed=1)
    places = [Place(id=name, lat=45, lon=-122) for name in ("base", "A")]
    table = ((0, 1), (1, 0))
    problem = build([crew], [visit], places, travel=Travel(seconds=table, meters=table), prices=Prices())
    route = Route(crew="c", stops=(Stop(visit="v", arrive_s=1, start_s=9_999_999, leave_s=10_000_000),), end_s=0)
    assert plan_cost(frame_of(problem), [route], []).total == 9_999_999 * 10**9 + 1 + 1
