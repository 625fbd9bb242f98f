"""
Day plans: asked for, worked out in a process of their own, looked at, published, taken back.

The problem, seed, limit and outcome stay with each plan, so that a bad day becomes a test.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID, uuid5

from django.conf import settings
from django.contrib.auth.models import User
from django.db import transaction

from dispatch import crew_facts, departures, followups, routes, snapshot, solving
from dispatch.models import Crew, Plan, Stop
from dispatch.planner.plan import Plan as PlannerPlan
from dispatch.planner.plan import read_plan
from equipment.models import Alarm, Warehouse
from jobs import due_work, journal
from jobs.models import Area, Visit
from jobs.people import system_user
from jobs.refusals import NotThere, Refusal
from jobs.use_case import key_for, use_case

RUN = "dispatch.run_plan"
# Renewed every ten seconds while it is solved, so that a worker that was killed costs no more than this.
SOLVING_LEASE = timedelta(minutes=1)
TRIES = 3
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
    """The day's problem from the tables: seven queries, however many jobs and crews."""
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
        standing = solving.published_plan(shot)
        outcome, failure = solving.solve_beside(
            shot.problem,
            seconds=plan.seconds,
            iterations=plan.iterations,
            seed=plan.seed,
            start=standing,
            on_progress=lambda word: _keep_progress(plan, word),
            on_alive=lambda so_far_s: due_work.renew(work_id, now=now + timedelta(seconds=so_far_s)),
        )
        if standing is not None:
            plan.progress["published_cost"] = standing.cost.model_dump(mode="json")
        plan.problem, plan.outcome, plan.failure = shot.problem, outcome, failure
        plan.state = Plan.State.FAILED if outcome is None else Plan.State.DRAFT
        _keep_outcome(plan, unattended=publish, now=now)
    if publish and plan.state == Plan.State.DRAFT:
        publish_plan(key=uuid5(NAMESPACE, f"publish {plan.pk}"), actor=system_user(), now=now, plan_id=plan.pk)
    return {"state": plan.state}


def _keep_outcome(plan: Plan, *, unattended: bool, now: datetime) -> None:
    """Unless somebody who took the work over, because we were silent for too long, was quicker."""
    fields = ("problem", "outcome", "failure", "state", "progress")
    with transaction.atomic():
        asked = Plan.objects.filter(pk=plan.pk, state=Plan.State.ASKED)
        if not asked.update(**{name: getattr(plan, name) for name in fields}):
            plan.refresh_from_db()
        elif unattended and plan.state == Plan.State.FAILED:
            text = f"The plan for {_day(plan)} could not be worked out: {plan.failure} Ask for it again."
            Alarm.objects.create(area=plan.area, kind="no_plan", text=text[:300], raised_at=now)


def _given_up(*, now: datetime, work_id: int, plan_id: int, publish: bool) -> None:
    """Every try failed or was cut off: the plan says so, instead of being worked out for ever."""
    plan = Plan.objects.select_related("area").get(pk=plan_id)
    if plan.state == Plan.State.ASKED:
        plan.state, plan.failure = Plan.State.FAILED, f"{TRIES} tries were cut off before they were done."
        _keep_outcome(plan, unattended=publish, now=now)


def _keep_progress(plan: Plan, word: Mapping[str, Any]) -> None:
    """Put cost and bound so far on the row, where every page that waits for the plan finds them."""
    plan.progress = {"first_cost": plan.progress.get("first_cost", word["cost"]), **word}
    plan.save(update_fields=["progress"])


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
    before, promises, fetches = _routes_now(free), _promises(free), _fetches(free)
    routes.take_off_route(sorted(free))
    moved: list[int] = []
    for route in answer.routes:
        crew_id = snapshot.id_of(route.crew)
        mine = tuple(s for s in route.stops if _visit(s.visit) in free or begun_by.get(_visit(s.visit)) == crew_id)
        kept = route.model_copy(update={"stops": mine})
        moved += [
            change.visit_id for change in routes.write_route(snapshot=shot, route=kept, plan=plan, fetches=fetches)
        ]
    crews = Crew.objects.filter(pk__in=[snapshot.id_of(route.crew) for route in answer.routes if route.stops])
    departures.write(key=key_for(key, "departures"), actor=actor, now=now, crews=list(crews))
    left_out = tuple(_visit(skipped.visit) for skipped in answer.skipped if skipped.visit.startswith("v"))
    if left_out:
        _alarm(plan, answer, now)
    Plan.objects.filter(area=plan.area, service_day=plan.service_day, state=Plan.State.PUBLISHED).update(
        state=Plan.State.WITHDRAWN
    )
    plan.state, plan.published_at = Plan.State.PUBLISHED, now
    plan.progress = {**plan.progress, "before": before, "promises": promises}
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
    open_visits = Visit.objects.filter(state=Visit.State.DUE, left_at__isnull=True)
    taken = list(open_visits.filter(stop__plan=plan).values_list("pk", flat=True))
    routes.take_off_route(taken)
    before = {row["visit_id"]: row for row in plan.progress.get("before", [])}
    back = open_visits.filter(pk__in=before, stop__isnull=True).values_list("pk", flat=True)
    Stop.objects.bulk_create(Stop(**before[pk]) for pk in back)
    promises = plan.progress.get("promises", {})
    for visit in open_visits.filter(pk__in=promises):
        visit.promised_start = promises[str(visit.pk)]
        visit.save(update_fields=["promised_start"])
    plan.state = Plan.State.WITHDRAWN
    plan.save(update_fields=["state"])
    journal.note(
        kind="plan_taken_back", actor=actor, now=now, area_id=plan.area_id, data={"plan": plan.pk, "visits": len(taken)}
    )
    return Published(plan.pk, 0, (), tuple(taken))


def register() -> None:
    """Let due work solve plans, in the queue whose solver never delays a page."""
    due_work.register(RUN, run_plan, lease=SOLVING_LEASE, tries=TRIES, queue="plan", given_up=_given_up)


def _plan(plan_id: int) -> Plan:
    plan = Plan.objects.select_for_update().select_related("area").filter(pk=plan_id).first()
    if plan is None:
        raise NotThere(f"There is no plan {plan_id}.")
    return plan


def _visit(name: str) -> int:
    return snapshot.id_of(name)


def _still_free(answer: PlannerPlan) -> tuple[set[int], dict[int, int]]:
    """Visits the plan places or leaves out that may still change, and the crew of each that was begun meanwhile."""
    free: set[int] = set()
    begun_by: dict[int, int] = {}
    keys = [stop.visit for route in answer.routes for stop in route.stops] + [row.visit for row in answer.skipped]
    for visit in Visit.objects.filter(pk__in=[_visit(key) for key in keys if key.startswith("v")]).select_related(
        "stop"
    ):
        if visit.state == Visit.State.DUE and visit.left_at is None:
            free.add(visit.pk)
        elif hasattr(visit, "stop"):
            begun_by[visit.pk] = visit.stop.crew_id
    return free, begun_by


def _routes_now(visit_ids: Collection[int]) -> list[dict[str, Any]]:
    """The stops as rows to be made again, times as text."""
    times = ("arrive_at", "start_at", "leave_at", "fetch_at", "fetched_at")
    fields = ("crew_id", "visit_id", "position", "plan_id", "fetch_from_id")
    rows = Stop.objects.filter(visit_id__in=visit_ids).values(*fields, *times)
    return [{**row, **{k: row[k] and row[k].isoformat() for k in times}} for row in rows]


def _promises(visit_ids: Collection[int]) -> dict[str, str | None]:
    found = Visit.objects.filter(pk__in=visit_ids).values_list("pk", "promised_start")
    return {str(pk): None if at is None else at.isoformat() for pk, at in found}


def _fetches(visit_ids: Collection[int]) -> dict[int, Warehouse]:
    """What still has to be fetched on the way stays with its visit."""
    rows = Stop.objects.filter(visit_id__in=visit_ids, fetch_from__isnull=False, fetched_at__isnull=True)
    return {row.visit_id: row.fetch_from for row in rows.select_related("fetch_from") if row.fetch_from is not None}


def _day(plan: Plan) -> str:
    return f"{plan.service_day:%b} {plan.service_day.day}"


def _alarm(plan: Plan, answer: PlannerPlan, now: datetime) -> None:
    named = ", ".join(
        f"{visit.job.number} ({visit.job.town})"
        for visit in Visit.objects.filter(
            pk__in=[_visit(row.visit) for row in answer.skipped if row.visit.startswith("v")]
        ).select_related("job")[:6]
    )
    text = f"Left out of the plan for {_day(plan)}: {named}. See the plan for why."
    Alarm.objects.create(area=plan.area, kind="left_out", text=text[:300], raised_at=now)
