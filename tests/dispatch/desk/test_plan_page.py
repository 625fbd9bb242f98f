"""The plan page: how far the plan is, and what it changes against the published routes."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from dispatch import planning, solving
from dispatch.desk.plan_pages import PlanPage, plan_page
from dispatch.models import Crew, Override, Plan, Stop
from dispatch.planner.problem import Problem
from dispatch.planner.solve import Limit, solve
from jobs.models import Job, Visit
from tests.dispatch.night import Night
from tests.dispatch.test_planning import TOMORROW, day, plan_it

__all__ = ["day"]


@pytest.fixture(autouse=True)
def _solved_here(monkeypatch: pytest.MonkeyPatch) -> None:
    """The planner's answer without a second process, whose start would be most of the test."""

    def here(problem: Any, *, start: Any = None, on_progress: Any = None, seed: int = 1, **_: Any) -> Any:
        if on_progress:
            on_progress({"seconds": 1.0, "cost": 90_000, "bound": 0})
            on_progress({"seconds": 4.2, "cost": 80_000, "bound": 20_000})
        found = solve(Problem.model_validate(problem), limit=Limit(iterations=30), seed=seed, start=start)
        return found.plan.to_json(), ""

    monkeypatch.setattr(solving, "solve_beside", here)


def page_of(night: Night, plan: Plan) -> PlanPage:
    page = plan_page(area_id=night.cast.area.pk, plan_id=plan.pk)
    assert page is not None
    return page


def test_the_waiting_page_tells_time_cost_and_bound_and_survives_a_reload(day: Night, client: Client) -> None:
    asked = planning.plan_day(**day.by(day.dispatcher), area_id=day.cast.area.pk, day=TOMORROW, seconds=10)
    client.force_login(day.dispatcher)
    assert "Getting ready" in client.get(f"/desk/plans/{asked.plan_id}").content.decode()

    plan = Plan.objects.get(pk=asked.plan_id)
    planning._keep_progress(plan, {"seconds": 1.0, "cost": 900_000, "bound": 0})
    assert "No bound yet" in client.get(f"/desk/plans/{plan.pk}").content.decode()
    planning._keep_progress(plan, {"seconds": 4.2, "cost": 800_000, "bound": 200_000})
    for _ in range(2):
        text = client.get(f"/desk/plans/{plan.pk}").content.decode()
        assert "4 of 10 seconds" in text
        assert "$80.00, down from $90.00" in text
        assert "costs less than $20.00" in text


def test_a_first_plan_has_nothing_to_be_laid_against(day: Night) -> None:
    assert page_of(day, plan_it(day)).comparison is None


def test_the_same_day_planned_twice_moves_nothing(day: Night) -> None:
    plan_it(day, publish=True)
    found = page_of(day, plan_it(day)).comparison
    assert found is not None
    assert (found.shown, found.unchanged) == ((), 5)


def test_each_change_says_who_moves_by_how_much_and_whom_to_tell(day: Night, client: Client) -> None:
    plan_it(day, publish=True)
    stop = Stop.objects.filter(visit__window_from__isnull=True).order_by("pk").first()
    assert stop is not None
    job = stop.visit.job
    job.contacts.create(role="owner", name="Dana Reed", phone="360-555-0188", lets_in=True)
    draft = plan_it(day)
    planned = {stop["visit"]: stop["start"] for route in draft.outcome["routes"] for stop in route["stops"]}
    # Meanwhile somebody moved the published stop to the other crew, half an hour later.
    other = Crew.objects.exclude(pk=stop.crew_id).get()
    mine = Crew.objects.get(pk=stop.crew_id)
    Stop.objects.filter(pk=stop.pk).update(crew=other, start_at=stop.start_at + timedelta(minutes=30))
    newcomer = day.visit(day.cast.job(stage="drying"), due_on=TOMORROW)

    found = page_of(day, draft).comparison

    assert found is not None
    assert f"v{newcomer.pk}" not in planned
    change = found.shown[0]
    assert change.job_number == job.number
    assert change.before is not None
    assert change.after is not None
    assert (change.before.crew, change.after.crew) == (other.name, mine.name)
    assert change.moved == "30 min earlier"
    assert change.tell == ("Dana Reed 360-555-0188", other.name, mine.name)
    client.force_login(day.dispatcher)
    text = client.get(f"/desk/plans/{draft.pk}").content.decode()
    assert "Dana Reed 360-555-0188" in text
    assert "30 min earlier" in text


def test_a_new_visit_is_newly_in_and_the_price_of_moving_stands_beside_the_saving(day: Night) -> None:
    plan_it(day, publish=True)
    newcomer = day.visit(day.cast.job(stage="drying", lat=45.55), due_on=TOMORROW)
    found = page_of(day, plan_it(day)).comparison
    assert found is not None
    assert [row.moved for row in found.shown if row.job_number == newcomer.job.number] == ["newly in"]
    assert "this plan costs $" in found.worth


def test_a_published_plan_is_laid_against_what_it_replaced_and_taking_back_gives_back_the_promises(day: Night) -> None:
    plan_it(day, publish=True)
    promised = dict(Visit.objects.values_list("pk", "promised_start"))
    stop = Stop.objects.order_by("pk").first()
    assert stop is not None
    draft = plan_it(day)
    Stop.objects.filter(pk=stop.pk).update(start_at=stop.start_at + timedelta(minutes=20))
    planning.publish_plan(**day.by(day.dispatcher), plan_id=draft.pk)
    found = page_of(day, Plan.objects.get(pk=draft.pk)).comparison
    assert found is not None
    assert [row.moved for row in found.shown] == ["20 min earlier"]

    planning.withdraw_plan(**day.by(day.dispatcher), plan_id=draft.pk)
    assert dict(Visit.objects.values_list("pk", "promised_start")) == promised
    assert Stop.objects.get(visit=stop.visit).start_at == stop.start_at + timedelta(minutes=20)


def test_a_detour_to_a_warehouse_outlives_another_publication(day: Night) -> None:
    plan_it(day, publish=True)
    stop = Stop.objects.order_by("pk").first()
    assert stop is not None
    Stop.objects.filter(pk=stop.pk).update(fetch_from=day.cast.south)
    planning.publish_plan(**day.by(day.dispatcher), plan_id=plan_it(day).pk)
    assert Stop.objects.get(visit=stop.visit).fetch_from == day.cast.south


def test_the_page_takes_a_fixed_number_of_queries(day: Night, django_assert_num_queries: Any) -> None:
    plan_it(day, publish=True)
    draft = plan_it(day)
    with django_assert_num_queries(6):
        page_of(day, draft)


def test_a_stop_that_a_manager_let_a_crew_make_says_so(day: Night) -> None:
    plan = plan_it(day)
    (route, *_) = page_of(day, plan).routes
    crew = Crew.objects.get(area=day.cast.area, service_day=TOMORROW, name=route.crew)
    stop = route.stops[0]
    Override.objects.create(
        area=day.cast.area,
        job=Job.objects.get(number=stop.job_number),
        crew=crew,
        lead=crew.lead,
        helper=crew.helper,
        rules=[{"rule": "rest", "who": "lead", "message": "The lead has had 6 of 10 hours off."}],
        reason="nobody else is near",
        said_by=day.cast.manager,
        said_at=stop.at - timedelta(hours=3),
        until=stop.at + timedelta(hours=3),
    )
    marks = {row.job_number: row.override for line in page_of(day, plan).routes for row in line.stops}
    assert "Overridden by" in marks.pop(stop.job_number)
    assert not any(marks.values())
