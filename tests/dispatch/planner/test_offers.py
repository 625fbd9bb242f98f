"""Offers against trying every position of every crew."""

from __future__ import annotations

from random import Random

import pytest
from hypothesis import given, settings

from dispatch.planner.frame import Frame
from dispatch.planner.insertion import shortage, stocks_with
from dispatch.planner.offers import offers, standing_of
from dispatch.planner.plan import Plan
from dispatch.planner.problem import Crew, Place, Prices, Problem, Refused, Stock, Travel, UnderWay, Visit, build
from dispatch.planner.schedule import Detour, Timed, schedule
from tests.dispatch.planner.days import planned, random_day, random_days


def _best_by_trying(frame: Frame, crew: int, before: Timed, v: int) -> tuple[int, int, int] | None:
    """(added cost, position, start) of the best position, every stock place and every position tried."""
    begun = len(frame.begun[crew])
    missing = shortage(frame, crew, v, before.visits[begun:])
    ways = [Detour(v, place, load_s) for place, load_s in stocks_with(frame, missing)] if missing else [None]
    found: list[tuple[int, int, int]] = []
    for position in range(begun, len(before.visits) + 1):
        order = (*before.visits[:position], v, *before.visits[position:])
        tried = [route for way in ways if isinstance(route := schedule(frame, crew, order, way), Timed)]
        if tried:
            route = min(tried, key=lambda r: (r.starts_s[position], r.cost))
            found.append((route.cost - before.cost, position, route.starts_s[position]))
    return min(found, default=None)


def _agree_with_trying(problem: Problem) -> None:
    plan = planned(problem)
    standing = standing_of(problem, plan)
    frame = standing.frame
    for left in plan.skipped:
        v = frame.visit_at[left.visit]
        if v in frame.under_way_by:
            continue
        told = standing.offers(left.visit)
        named = [o.crew for o in told.offers] + [n.crew for n in told.not_offered]
        assert sorted(named) == sorted(c.id for c in problem.crews)
        best = {crew.id: _best_by_trying(frame, c, standing.routes[c], v) for c, crew in enumerate(problem.crews)}
        whole = [o for o in told.offers if not o.missing]
        assert {o.crew: (o.added_cost, o.position, o.start_s) for o in whole} == {
            crew: found for crew, found in best.items() if found is not None
        }
        assert [o.added_cost for o in told.offers] == sorted(o.added_cost for o in told.offers)


@settings(max_examples=50, deadline=None)
@given(random_days())
def test_offers_are_those_of_every_position_tried(problem: Problem) -> None:
    _agree_with_trying(problem)


@pytest.mark.long
def test_offers_of_ten_thousand_days_are_those_of_every_position_tried() -> None:
    for seed in range(10_000):
        rng = Random(seed)
        _agree_with_trying(random_day(rng, rng.randrange(1, 12), rng.randrange(1, 5)))


def _emergency(stock: tuple[Stock, ...], *, aboard: int, other_needs: int = 0) -> tuple[Problem, Plan]:
    """A crew at base, a visit ten minutes away, two stock places; driving in minutes."""
    names = ("base", "near", "far", "door", "other")
    minutes = (
        (0, 5, 30, 10, 10),
        (5, 0, 30, 6, 10),
        (30, 30, 0, 30, 30),
        (10, 6, 30, 0, 10),
        (10, 10, 30, 10, 0),
    )
    seconds = tuple(tuple(60 * m for m in row) for row in minutes)
    crew = Crew(
        id="c",
        start="base",
        end="base",
        from_s=0,
        until_s=30_000,
        at_latest_s=40_000,
        capacity={"mover": 20},
        aboard={"mover": aboard},
    )
    visits = [
        Visit(id="new", place="door", service_s=600, deliver={"mover": 6}, skip=0),
        Visit(id="old", place="other", service_s=600, deliver={"mover": other_needs}),
    ]
    problem = build(
        [crew],
        visits,
        [Place(id=n, lat=45, lon=-122) for n in names],
        travel=Travel(seconds=seconds, meters=seconds),
        prices=Prices(),
        stock=stock,
    )
    return problem, planned(problem)


NEAR = Stock(place="near", have={"mover": 4}, load_s=120)
FAR = Stock(place="far", have={"mover": 40}, load_s=120)


def test_what_is_aboard_is_not_fetched() -> None:
    problem, plan = _emergency((NEAR, FAR), aboard=6)
    (offer,) = offers(problem, plan, "new").offers
    assert offer.fetch is None


def test_what_is_due_elsewhere_is_not_counted_as_aboard() -> None:
    problem, plan = _emergency((NEAR, FAR), aboard=6, other_needs=3)
    (offer,) = offers(problem, plan, "new").offers
    assert offer.fetch is not None
    assert offer.fetch.take == {"mover": 3}


def test_missing_equipment_is_fetched_where_the_start_is_earliest() -> None:
    problem, plan = _emergency((NEAR, FAR), aboard=2)
    (offer,) = offers(problem, plan, "new").offers
    assert offer.fetch is not None
    assert (offer.fetch.place, offer.fetch.take) == ("near", {"mover": 4})
    assert offer.fetch.leave_s - offer.fetch.arrive_s == 120
    assert offer.arrive_s == offer.fetch.leave_s + 6 * 60


def test_a_place_with_too_little_is_passed_by() -> None:
    problem, plan = _emergency((NEAR, FAR), aboard=1)
    (offer,) = offers(problem, plan, "new").offers
    assert offer.fetch is not None
    assert offer.fetch.place == "far"


def test_a_shortage_that_is_all_there_is_is_named_beside_the_offer() -> None:
    problem, plan = _emergency((), aboard=1)
    told = offers(problem, plan, "new")
    assert [(o.crew, o.missing) for o in told.offers] == [("c", {"mover": 5})]


def test_a_crew_that_cannot_fetch_is_not_offered_while_another_can_come() -> None:
    problem, plan = _emergency((), aboard=1)
    other = problem.crews[0].model_copy(update={"id": "d", "aboard": {"mover": 6}})
    problem = problem.model_copy(update={"crews": (*problem.crews, other)})
    told = offers(problem, plan, "new")
    assert [o.crew for o in told.offers] == ["d"]
    assert [(n.crew, n.code) for n in told.not_offered] == [("c", "equipment")]
    assert "5 mover" in told.not_offered[0].message


def test_a_crew_under_way_is_met_where_it_is_going_and_not_where_it_was() -> None:
    problem, _ = _emergency((), aboard=6)
    crew = problem.crews[0].model_copy(update={"under_way": UnderWay(to="old", left_s=900)})
    problem = problem.model_copy(update={"crews": (crew,), "now_s": 1_000})
    (offer,) = offers(problem, Plan(), "new").offers
    assert offer.position == 1
    assert offer.arrive_s == 900 + 600 + 600 + 600  # the drive it is on, the service there, the drive on


def test_at_most_keeps_every_crew_in_one_of_the_lists() -> None:
    problem = random_day(Random(11), 10, 5, running=False)
    plan = planned(problem)
    for left in plan.skipped:
        everyone = offers(problem, plan, left.visit)
        best = offers(problem, plan, left.visit, at_most=1)
        assert best.offers == everyone.offers[:1]
        assert len(best.offers) + len(best.not_offered) == len(problem.crews)


def test_a_visit_that_is_planned_or_unknown_is_refused() -> None:
    problem, plan = _emergency((), aboard=6)
    with pytest.raises(Refused) as known:
        offers(problem, plan, "old")
    assert known.value.code == "visit_planned"
    with pytest.raises(Refused) as unknown:
        offers(problem, plan, "nobody")
    assert unknown.value.code == "visit_unknown"


def test_who_becomes_late_and_which_promise_moves_is_told() -> None:
    problem, _ = _emergency((), aboard=20)
    old = problem.visits[1].model_copy(
        update={"due_s": 700, "per_late_second": 1, "promised_s": 600, "per_moved_second": 1, "prefer": {}}
    )
    problem = problem.model_copy(
        update={"visits": (problem.visits[0].model_copy(update={"due_s": 0, "per_late_second": 9}), old)}
    )
    plan = planned(problem.model_copy(update={"visits": (old,)}))
    (offer,) = offers(problem, plan, "new").offers
    assert offer.position == 0
    assert {(d.visit, d.by_s) for d in offer.made_late} == {("new", 600), ("old", 1_800 - 700)}
    assert [(d.visit, d.by_s) for d in offer.moved] == [("old", 1_200)]


def test_a_short_way_round_does_not_excuse_a_straight_drive_over_the_limit() -> None:
    """The plan will state the straight drive, so a table that makes the way round quicker must not hide it."""
    problem, _ = _emergency((NEAR,), aboard=2)
    assert problem.travel is not None
    rows = [list(row) for row in problem.travel.seconds]
    rows[0][3] = 10_000
    seconds = tuple(map(tuple, rows))
    crew = problem.crews[0].model_copy(update={"driving_limit_s": 5_000})
    travel = problem.travel.model_copy(update={"seconds": seconds})
    problem = problem.model_copy(update={"crews": (crew,), "travel": travel, "visits": problem.visits[:1]})
    told = offers(problem, Plan(), "new")
    assert [(n.crew, n.code) for n in told.not_offered] == [("c", "driving_limit")]
