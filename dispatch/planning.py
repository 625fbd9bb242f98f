"""
Day plans: asked for, worked out in a process of their own, looked at, published, taken back.

The problem, seed, limit and outcome stay with each plan, so that a bad day becomes a test.
"""

import json
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import UUID, uuid5

from django.conf import settings
from django.contrib.auth.models import User
from django.db import transaction

from dispatch import crew_facts, departures, followups, routes, snapshot
from dispatch.models import Crew, Plan, Stop
from dispatch.planner.plan import Plan as PlannerPlan
from dispatch.planner.plan import read_plan
from equipment.models import Alarm
from jobs import due_work, journal
from jobs.models import Area, Visit
from jobs.people import system_user
from jobs.refusals import NotThere, Refusal
from jobs.use_case import key_for, use_case

RUN = "dispatch.run_plan"
EVENING = "dispatch.evening_plan"
EVENING_HOUR = 19
NAMESPACE = UUID("b0a6c1f2-3a51-4c0f-8d57-1f6f0f6e5b02")


class NotPlannable(Refusal):
    """There is nothing to plan with."""

    code = "no_crews"


class NotADraft(Refusal):
    """Only a plan that is ready to look at can be published, and only a published one taken back."""

    code = "plan_state"


@dataclass(frozen=True)
class Asked:
    """A plan that is being worked out."""

    plan_id: int


@dataclass(frozen=True)
class Published:
    """What publishing did: visits on routes, visits left out, promises that moved."""

    plan_id: int
    placed: int
    left_out: tuple[int, ...]
    moved: tuple[int, ...]


@use_case("plan_day")
def plan_day(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    area_id: int,
    day: date,
    seconds: int | None = None,
    iterations: int | None = None,
    seed: int = 1,
    publish: bool = False,
) -> Asked:
    """
    Ask for a day's plan. Every open job gets its visit first; the plan itself is worked out beside.

    :raises NotPlannable: if the day has no crews.
    """
    area = Area.objects.get(pk=area_id)
    if not crew_facts.crews_of_day(area_id=area_id, day=day):
        raise NotPlannable(f"No crew works in {area.name} on {day:%A, %B} {day.day}. Put crews on shift first.")
    if seconds is None:
        iterations = iterations or settings.PLAN_ITERATIONS or None
    followups.ensure_visits(key=key, actor=actor, now=now, area=area, day=day)
    plan = Plan.objects.create(
        area=area,
        service_day=day,
        asked_at=now,
        asked_by=actor,
        seconds=None if iterations else seconds or settings.PLAN_SECONDS,
        iterations=iterations,
        seed=seed,
    )
    due_work.enqueue(kind=RUN, arguments={"plan_id": plan.pk, "publish": publish}, due_at=now, now=now)
    return Asked(plan.pk)


def problem_of(*, area: Area, day: date, now: datetime) -> snapshot.Snapshot:
    """The day's problem from the tables: five queries, however many jobs and crews."""
    rows = crew_facts.rows_of(crew_facts.crews_of_day(area_id=area.pk, day=day), now=now)
    visits = Visit.objects.filter(job__area=area, due_on__lte=day, state=Visit.State.DUE, stop__isnull=True)
    elsewhere = Visit.objects.filter(
        job__area=area, due_on__lte=day, state=Visit.State.DUE, stop__crew__service_day__lt=day, left_at__isnull=True
    )
    waiting = visits.select_related("job").order_by("pk")
    # What an earlier day left on a route that is over is due today.
    over = elsewhere.filter(stop__crew__at_latest__lt=now).select_related("job").order_by("pk")
    return snapshot.build(area=area, day=day, now=now, rows=rows, visits=[*waiting, *over])


def run_plan(*, now: datetime, work_id: int, plan_id: int, publish: bool) -> dict[str, Any]:
    """Handler: work one plan out in a process of its own and store problem and outcome; publish it if asked to."""
    plan = Plan.objects.select_related("area").get(pk=plan_id)
    if plan.state == Plan.State.ASKED:
        shot = problem_of(area=plan.area, day=plan.service_day, now=now)
        outcome, failure = solve_beside(shot.problem, seconds=plan.seconds, iterations=plan.iterations, seed=plan.seed)
        plan.problem, plan.outcome, plan.failure = shot.problem, outcome, failure
        plan.state = Plan.State.FAILED if outcome is None else Plan.State.DRAFT
        plan.save(update_fields=["problem", "outcome", "failure", "state"])
    if publish and plan.state == Plan.State.DRAFT:
        publish_plan(key=uuid5(NAMESPACE, f"publish {plan.pk}"), actor=system_user(), now=now, plan_id=plan.pk)
    return {"state": plan.state}


def solve_beside(
    problem: dict[str, Any], *, seconds: int | None, iterations: int | None, seed: int
) -> tuple[dict[str, Any] | None, str]:
    """
    The planner's answer from a child process (a routing search holds the interpreter for its whole run).

    :returns: the plan's JSON and "", or None and what went wrong.
    """
    limit = ["--iterations", str(iterations)] if iterations else ["--seconds", str(seconds)]
    with tempfile.TemporaryDirectory(prefix="ebbline-plan-") as folder:
        path = Path(folder) / "problem.json"
        path.write_text(json.dumps(problem), encoding="utf-8")
        command = [sys.executable, "-m", "dispatch.planner", "solve", str(path), *limit, "--seed", str(seed)]
        try:
            done = subprocess.run(
                command,
                cwd=settings.BASE_DIR,
                capture_output=True,
                text=True,
                # The first run on a machine compiles the search, which takes a minute on busy cores.
                timeout=(seconds or 60) * 4 + 240,
                check=False,
            )
        except subprocess.TimeoutExpired:
            return None, "The planner did not answer in time."
    if done.returncode != 0:
        return None, (done.stderr.strip() or f"The planner stopped with status {done.returncode}.")[:300]
    return json.loads(done.stdout), ""


@use_case("publish_plan")
def publish_plan(*, key: UUID, actor: User, now: datetime, plan_id: int) -> Published:
    """
    Make a draft the day's routes. Begun visits stay where they are; what is left out raises an alarm.

    :raises NotADraft: if the plan is in another state.
    """
    plan = _plan(plan_id)
    if plan.state != Plan.State.DRAFT or plan.outcome is None or plan.problem is None:
        raise NotADraft(f"This plan is {plan.get_state_display()}; only one that is ready can be published.")
    answer = read_plan(plan.outcome)
    shot = snapshot.Snapshot(zero=snapshot.zero_of(plan.area, plan.service_day), problem=plan.problem)
    routes.lock_crews(snapshot.id_of(route.crew) for route in answer.routes)
    free, begun_by = _still_free(answer)
    before = _routes_now(answer)
    routes.take_off_route(sorted(free))
    moved: list[int] = []
    for route in answer.routes:
        crew_id = snapshot.id_of(route.crew)
        mine = tuple(s for s in route.stops if _visit(s.visit) in free or begun_by.get(_visit(s.visit)) == crew_id)
        kept = route.model_copy(update={"stops": mine})
        moved += [change.visit_id for change in routes.write_route(snapshot=shot, route=kept, plan=plan)]
    crews = Crew.objects.filter(pk__in=[snapshot.id_of(route.crew) for route in answer.routes if route.stops])
    departures.write(key=key_for(key, "departures"), actor=actor, now=now, crews=list(crews))
    left_out = tuple(_visit(skipped.visit) for skipped in answer.skipped if skipped.visit.startswith("v"))
    if left_out:
        _alarm(plan, answer, now)
    Plan.objects.filter(area=plan.area, service_day=plan.service_day, state=Plan.State.PUBLISHED).update(
        state=Plan.State.WITHDRAWN
    )
    plan.state, plan.published_at = Plan.State.PUBLISHED, now
    plan.progress = {**plan.progress, "before": before}
    plan.save(update_fields=["state", "published_at", "progress"])
    journal.note(
        kind="plan_published",
        actor=actor,
        now=now,
        area_id=plan.area_id,
        data={"plan": plan.pk, "day": plan.service_day.isoformat(), "left_out": len(left_out)},
    )
    placed = sum(len(route.stops) for route in answer.routes)
    return Published(plan.pk, placed, left_out, tuple(moved))


@use_case("withdraw_plan")
def withdraw_plan(*, key: UUID, actor: User, now: datetime, plan_id: int) -> Published:
    """
    Take a published plan back: what it had replaced stands again, begun visits stay.

    :raises NotADraft: if the plan is not published.
    """
    plan = _plan(plan_id)
    if plan.state != Plan.State.PUBLISHED:
        raise NotADraft(f"This plan is {plan.get_state_display()}; only a published one can be taken back.")
    open_stops = Stop.objects.filter(plan=plan, visit__state=Visit.State.DUE, visit__left_at__isnull=True)
    taken = list(open_stops.values_list("visit_id", flat=True))
    routes.take_off_route(taken)
    for row in plan.progress.get("before", []):
        if row["visit_id"] in taken:
            Stop.objects.create(**row)
    plan.state = Plan.State.WITHDRAWN
    plan.save(update_fields=["state"])
    journal.note(
        kind="plan_taken_back", actor=actor, now=now, area_id=plan.area_id, data={"plan": plan.pk, "visits": len(taken)}
    )
    return Published(plan.pk, 0, (), tuple(taken))


def evening_plan(*, now: datetime, work_id: int, area_id: int) -> dict[str, Any]:
    """Handler: plan and publish tomorrow, and be there again tomorrow evening."""
    area = Area.objects.get(pk=area_id)
    day = now.astimezone(area.zone).date() + timedelta(days=1)
    with transaction.atomic():
        keep_evenings(now=now + timedelta(hours=1), area=area)
        if crew_facts.crews_of_day(area_id=area_id, day=day):
            plan_day(
                key=uuid5(NAMESPACE, f"evening {area_id} {day}"),
                actor=system_user(),
                now=now,
                area_id=area_id,
                day=day,
                publish=True,
            )
    return {"day": day.isoformat()}


def keep_evenings(*, now: datetime, area: Area) -> None:
    """See to it that the next evening's planning stands in the rows."""
    local = now.astimezone(area.zone)
    evening = local.replace(hour=EVENING_HOUR, minute=0, second=0, microsecond=0)
    if evening <= local:
        evening += timedelta(days=1)
    due_work.enqueue(
        kind=EVENING, arguments={"area_id": area.pk}, due_at=evening, now=now, coalesce=f"{EVENING}:{area.pk}"
    )


def keep_all_evenings(*, now: datetime) -> None:
    """Standing work: the next evening's planning of every area that has crews."""
    for area in Area.objects.filter(crews__isnull=False).distinct():
        keep_evenings(now=now, area=area)


def register() -> None:
    """Let due work solve plans, in the queue whose solver never delays a page."""
    due_work.register(RUN, run_plan, lease=timedelta(minutes=10), tries=2, queue="plan")
    due_work.register(EVENING, evening_plan)
    due_work.register_standing(keep_all_evenings)


def _plan(plan_id: int) -> Plan:
    plan = Plan.objects.select_for_update().select_related("area").filter(pk=plan_id).first()
    if plan is None:
        raise NotThere(f"There is no plan {plan_id}.")
    return plan


def _visit(name: str) -> int:
    return snapshot.id_of(name)


def _still_free(answer: PlannerPlan) -> tuple[set[int], dict[int, int]]:
    """Visits of the plan that may still be put on a route, and the crew of each that was begun meanwhile."""
    free: set[int] = set()
    begun_by: dict[int, int] = {}
    for visit in Visit.objects.filter(pk__in=_placed(answer)).select_related("stop"):
        if visit.state == Visit.State.DUE and visit.left_at is None:
            free.add(visit.pk)
        elif hasattr(visit, "stop"):
            begun_by[visit.pk] = visit.stop.crew_id
    return free, begun_by


def _placed(answer: PlannerPlan) -> list[int]:
    return [_visit(stop.visit) for route in answer.routes for stop in route.stops if stop.visit.startswith("v")]


def _routes_now(answer: PlannerPlan) -> list[dict[str, Any]]:
    fields = ("crew_id", "visit_id", "position", "arrive_at", "start_at", "leave_at", "plan_id")
    rows = Stop.objects.filter(visit_id__in=_placed(answer)).values(*fields)
    return [{**row, **{k: row[k].isoformat() for k in ("arrive_at", "start_at", "leave_at")}} for row in rows]


def _alarm(plan: Plan, answer: PlannerPlan, now: datetime) -> None:
    named = ", ".join(
        f"{visit.job.number} ({visit.job.town})"
        for visit in Visit.objects.filter(
            pk__in=[_visit(row.visit) for row in answer.skipped if row.visit.startswith("v")]
        ).select_related("job")[:6]
    )
    Alarm.objects.create(
        area=plan.area,
        kind="left_out",
        text=f"Left out of the plan for {plan.service_day:%b} {plan.service_day.day}: {named}. See the plan for why."[
            :300
        ],
        raised_at=now,
    )
