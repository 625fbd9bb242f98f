"""Day plans: every open job gets its visit, windows are kept, plans are published and taken back."""

from datetime import date, timedelta
from typing import Any

import pytest

from dispatch import planning, snapshot
from dispatch.models import Crew, Plan, Stop
from dispatch.planner.check import check
from dispatch.planner.plan import read_plan
from dispatch.planner.problem import Problem
from equipment import reservations
from equipment.models import Alarm, LoadList
from jobs import due_work
from jobs.models import DueWork, Job, Visit
from tests.dispatch.night import NIGHT, Night, crew, person

TOMORROW = date(2026, 1, 16)
MORNING = NIGHT + timedelta(hours=8, minutes=13)  # 07:00 on the coast


@pytest.fixture
def day(night: Night) -> Night:
    """Two crews tomorrow and five drying jobs; one is dry, one has a promised window."""
    hours = {"starts_at": MORNING, "ends_at": MORNING + timedelta(hours=9), "at_latest": MORNING + timedelta(hours=12)}
    Crew.objects.all().delete()
    for name, vehicle, lead in (
        ("D1", night.cast.van, night.ready.lead),
        ("D2", night.cast.other_van, night.empty.lead),
    ):
        crew(night.cast, name, vehicle, lead, service_day=TOMORROW, **hours)
    for number in range(4):
        night.cast.job(stage=Job.Stage.DRYING, lat=45.5 + number / 20)
    dry = night.cast.job(stage=Job.Stage.AT_GOAL, lat=45.66)
    night.cast.units("3000", "3001", at=dry, condition="in_use")
    promised = Job.objects.filter(stage=Job.Stage.DRYING).earliest("pk")
    night.visit(
        promised, window_from=MORNING + timedelta(hours=5), window_until=MORNING + timedelta(hours=6), due_on=TOMORROW
    )
    return night


def plan_it(night: Night, **more: Any) -> Plan:
    asked = planning.plan_day(
        **night.by(night.dispatcher), area_id=night.cast.area.pk, day=TOMORROW, iterations=300, **more
    )
    due_work.run_due(clock=lambda: NIGHT)
    return Plan.objects.get(pk=asked.plan_id)


def test_every_open_job_gets_one_visit_and_a_dry_one_its_pick_up(day: Night) -> None:
    plan_it(day)
    kinds = dict(Visit.objects.values_list("job__stage", "kind").distinct())
    assert Visit.objects.filter(due_on=TOMORROW).count() == 5
    assert kinds["at_goal"] == Visit.Kind.PICK_UP
    assert Visit.objects.get(kind="pick_up").needs["collect"] == {"air_mover": 2}
    plan_it(day)
    assert Visit.objects.filter(due_on=TOMORROW).count() == 5


def test_a_visit_that_todays_route_will_still_make_does_not_stand_for_tomorrows(day: Night) -> None:
    job = Job.objects.filter(stage=Job.Stage.DRYING).latest("pk")
    tonight = crew(day.cast, "N9", day.cast.van, person(day.cast, "Dee"))
    today = day.visit(job, due_on=tonight.service_day)
    at = NIGHT + timedelta(hours=1)
    Stop.objects.create(crew=tonight, visit=today, position=1, arrive_at=at, start_at=at, leave_at=at)

    plan_it(day)

    assert Visit.objects.filter(job=job, due_on=TOMORROW).count() == 1
    Visit.objects.filter(job=job, due_on=TOMORROW).update(state=Visit.State.CANCELED)
    Stop.objects.all().delete()
    plan_it(day)
    assert not Visit.objects.filter(job=job, due_on=TOMORROW, state=Visit.State.DUE).exists()


def test_a_pick_up_that_the_readings_made_takes_what_stands_there_when_it_is_planned(day: Night) -> None:
    dry = Job.objects.get(stage=Job.Stage.AT_GOAL)
    made = Visit.objects.create(job=dry, kind=Visit.Kind.PICK_UP, due_on=TOMORROW, service_s=60)
    plan_it(day)
    made.refresh_from_db()
    assert made.needs["collect"] == {"air_mover": 2}
    assert made.service_s > 60


def test_a_plan_passes_the_independent_check_and_keeps_the_promised_window(day: Night) -> None:
    plan = plan_it(day)
    assert plan.state == Plan.State.DRAFT
    problem, answer = Problem.model_validate(plan.problem), read_plan(plan.outcome)
    assert not check(problem, answer)
    assert answer.skipped == ()
    promised = Visit.objects.get(window_from__isnull=False)
    shot = snapshot.Snapshot(zero=snapshot.zero_of(plan.area, TOMORROW), problem={})
    start = next(
        shot.at(stop.start_s)
        for route in answer.routes
        for stop in route.stops
        if stop.visit == snapshot.visit_key(promised.pk)
    )
    assert promised.window_from <= start <= promised.window_until


def test_publishing_makes_the_routes_and_taking_back_restores_what_was(day: Night) -> None:
    first = plan_it(day, publish=True)
    assert first.state == Plan.State.PUBLISHED or Plan.objects.get(pk=first.pk).state == "published"
    before = dict(Stop.objects.values_list("visit_id", "start_at"))
    assert len(before) == 5
    assert set(Visit.objects.filter(pk__in=before).values_list("promised_start", flat=True)) == set(before.values())

    second = plan_it(day)
    planning.publish_plan(**day.by(day.dispatcher), plan_id=second.pk)
    assert set(Stop.objects.values_list("plan_id", flat=True)) == {second.pk}
    planning.withdraw_plan(**day.by(day.dispatcher), plan_id=second.pk)
    assert dict(Stop.objects.values_list("visit_id", "start_at")) == before


def test_publishing_tells_the_warehouse_what_leaves_and_only_once(day: Night) -> None:
    job = day.cast.job(stage=Job.Stage.DRYING, lat=45.6)
    pool = day.cast.pool()
    held = reservations.hold(
        **day.by(day.dispatcher),
        job_id=job.pk,
        wanted=((pool.pk, 4),),
        starts_at=NIGHT,
        ends_at=NIGHT + timedelta(days=3),
        keep_for=timedelta(hours=1),
        leads_reason="more air in the hall",
    )
    reservations.confirm_hold(**day.by(day.dispatcher), reservation_id=held.reservation_ids[0])
    day.visit(job, kind="delivery", due_on=TOMORROW, needs={"skills": ["water"], "deliver": {"air_mover": 4}})

    for _ in range(2):
        plan = plan_it(day)
        planning.publish_plan(**day.by(day.dispatcher), plan_id=plan.pk)

    listed = LoadList.objects.get(state=LoadList.State.OPEN)
    assert listed.warehouse == day.cast.north
    assert [(line.model.code, line.wanted, line.job) for line in listed.lines.all()] == [("AM", 4, job)]


def test_only_a_draft_is_published_and_only_a_published_plan_taken_back(day: Night) -> None:
    plan = plan_it(day)
    with pytest.raises(planning.NotADraft):
        planning.withdraw_plan(**day.by(day.dispatcher), plan_id=plan.pk)
    planning.publish_plan(**day.by(day.dispatcher), plan_id=plan.pk)
    with pytest.raises(planning.NotADraft):
        planning.publish_plan(**day.by(day.dispatcher), plan_id=plan.pk)


def test_a_begun_visit_stays_with_its_crew_when_a_plan_is_published(day: Night) -> None:
    plan = plan_it(day)
    visit = Visit.objects.filter(window_from__isnull=True).first()
    assert visit is not None
    owner = Crew.objects.get(name="D2")
    at = MORNING
    Stop.objects.create(crew=owner, visit=visit, position=1, arrive_at=at, start_at=at, leave_at=at)
    Visit.objects.filter(pk=visit.pk).update(state="under_way", left_at=at, arrived_at=at)

    planning.publish_plan(**day.by(day.dispatcher, MORNING), plan_id=plan.pk)

    assert Stop.objects.get(visit=visit).crew == owner


def test_what_no_crew_may_do_is_left_out_with_an_alarm(day: Night) -> None:
    bad = day.cast.job(category=3)
    day.visit(bad, due_on=TOMORROW, needs={"skills": ["water", "microbial"]})

    plan = plan_it(day, publish=True)

    left_out = plan.outcome["skipped"] if plan.outcome else []
    assert [row["code"] for row in left_out] == ["skills"]
    assert bad.number in Alarm.objects.get(kind="left_out").text


def test_a_day_without_crews_is_refused(day: Night) -> None:
    with pytest.raises(planning.NotPlannable, match="No crew works"):
        planning.plan_day(
            **day.by(day.dispatcher), area_id=day.cast.area.pk, day=TOMORROW + timedelta(days=30), iterations=1
        )


def test_the_evening_plans_tomorrow_by_itself_and_comes_again(day: Night) -> None:
    evening = NIGHT - timedelta(hours=4)
    due_work.ensure_standing(now=evening)
    due_work.ensure_standing(now=evening)
    row = DueWork.objects.get(kind="dispatch.evening_plan")
    local = row.due_at.astimezone(day.cast.area.zone)
    assert (local.hour, local.minute, local.date()) == (19, 0, date(2026, 1, 15))

    due_work.run_one(row.pk, now=row.due_at)

    assert Plan.objects.get().service_day == TOMORROW
    again = DueWork.objects.get(kind="dispatch.evening_plan", state="pending")
    assert again.due_at - row.due_at == timedelta(days=1)


def test_the_problem_takes_a_fixed_number_of_queries(day: Night, django_assert_num_queries) -> None:  # type: ignore[no-untyped-def]
    area = day.cast.area
    with django_assert_num_queries(10):
        planning.problem_of(area=area, day=TOMORROW, now=NIGHT)
    for number in range(6):
        day.visit(day.cast.job(lat=45.4 + number / 30), due_on=TOMORROW)
    with django_assert_num_queries(10):
        shot = planning.problem_of(area=area, day=TOMORROW, now=NIGHT)
    assert len(shot.problem["visits"]) == 7


def test_the_day_is_planned_again_an_hour_before_its_first_shift(day: Night) -> None:
    evening = NIGHT - timedelta(hours=4)
    due_work.ensure_standing(now=evening)
    due_work.ensure_standing(now=evening)
    row = DueWork.objects.get(kind="dispatch.morning_plan")
    assert row.due_at == MORNING - timedelta(hours=1)

    due_work.run_one(row.pk, now=row.due_at)

    assert Plan.objects.get().service_day == TOMORROW
    assert DueWork.objects.get(kind=planning.RUN).arguments["publish"] is True
    # Its first shift is too near to be planned a third time.
    assert not DueWork.objects.filter(kind="dispatch.morning_plan", state="pending").exists()
