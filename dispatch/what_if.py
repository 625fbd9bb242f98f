"""
"What if": a stored plan's day with one thing changed, solved again beside the desk's work.

The plan itself is never touched. Question and answer are a row of due work that the plan's row names.
"""

from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import Any, Literal
from uuid import UUID

from django.contrib.auth.models import User

from dispatch import planning, snapshot, solving
from dispatch.models import Plan
from dispatch.planner.explain import moves
from dispatch.planner.frame import frame_of
from dispatch.planner.plan import read_plan
from dispatch.planner.problem import Problem
from dispatch.planner.reading import Refused
from dispatch.planner.whatif import difference, one_more_crew, wider_window
from jobs import due_work
from jobs.refusals import NotThere, Refusal
from jobs.use_case import use_case

ANSWER = "dispatch.what_if"
EXTRA = "c0"
SECONDS = 5
HOUR_S = 3600
MOST_ASKED = 12


class NoSuchChange(Refusal):
    """The change that is asked about cannot be made to this plan's day."""

    code = "what_if_unusable"


@dataclass(frozen=True)
class Question:
    """One changed thing: `crew` adds a crew like `subject` until `until`; `window` widens `subject` both ways."""

    what: Literal["crew", "window"]
    subject: str
    until: time | None = None
    wider_min: int = 60


@dataclass(frozen=True)
class WhatIfAsked:
    """The row of due work that will hold the answer."""

    work_id: int


@use_case("ask_what_if")
def ask_what_if(*, key: UUID, actor: User, now: datetime, plan_id: int, question: Question) -> WhatIfAsked:
    """
    Ask what one change of the day would bring.

    :raises NoSuchChange: if the plan has no outcome to compare with, or the change makes no sound day.
    """
    plan = Plan.objects.select_for_update().select_related("area").filter(pk=plan_id).first()
    if plan is None:
        raise NotThere(f"There is no plan {plan_id}.")
    if plan.problem is None or plan.outcome is None:
        raise NoSuchChange("This plan has no routes yet. Wait until it is ready, then ask again.")
    changed(plan, question)
    arguments = {
        "plan_id": plan.pk,
        "what": question.what,
        "subject": question.subject,
        "until": question.until and question.until.isoformat(),
        "wider_min": question.wider_min,
    }
    work_id = due_work.enqueue(kind=ANSWER, arguments=arguments, due_at=now, now=now)
    plan.progress = {**plan.progress, "what_ifs": [*plan.progress.get("what_ifs", []), work_id][-MOST_ASKED:]}
    plan.save(update_fields=["progress"])
    return WhatIfAsked(work_id)


def changed(plan: Plan, question: Question) -> Problem:
    """
    The plan's day with the one thing changed.

    :raises NoSuchChange: if that makes no sound day.
    """
    problem = Problem.model_validate(plan.problem)
    try:
        if question.what == "window":
            if not 0 < question.wider_min <= 12 * 60:
                raise NoSuchChange("A window is made wider by 1 to 720 minutes. Give a number of minutes in between.")
            return wider_window(problem, question.subject, question.wider_min * 60)
        return _with_crew(plan, problem, question)
    except Refused as refused:
        raise NoSuchChange(f"{refused}. Choose another crew, hour or visit.") from refused


def _with_crew(plan: Plan, problem: Problem, question: Question) -> Problem:
    like = next((crew for crew in problem.crews if crew.id == question.subject), None)
    if like is None or question.until is None:
        raise NoSuchChange("Name a crew of this plan that the extra one is like, and until when it works.")
    zero = snapshot.zero_of(plan.area, plan.service_day)
    ends_at = datetime.combine(plan.service_day, question.until, tzinfo=plan.area.zone)
    until_s = round((ends_at - zero) / timedelta(seconds=1))
    from_s = max(like.from_s, problem.now_s)
    if until_s <= from_s:
        raise NoSuchChange("That crew would be done before its shift starts. Give a later hour.")
    extra = like.model_copy(
        update={
            "id": EXTRA,
            "from_s": from_s,
            "until_s": until_s,
            "at_latest_s": until_s + max(0, like.at_latest_s - like.until_s),
            "aboard": None,
            "break_taken": None,
            "under_way": None,
            "begun": (),
        }
    )
    return one_more_crew(problem, extra)


def answer(
    *, now: datetime, work_id: int, plan_id: int, what: Literal["crew", "window"], subject: str, until: str | None,
    wider_min: int,
) -> dict[str, Any]:  # fmt: skip
    """Handler: solve the changed day from the plan's own routes; both costs, and who gets in or falls out."""
    plan = Plan.objects.select_related("area").get(pk=plan_id)
    day = changed(plan, Question(what, subject, time.fromisoformat(until) if until else None, wider_min))
    before = read_plan(plan.outcome)
    outcome, failure = solving.solve_beside(
        day.to_json(),
        seconds=SECONDS,
        iterations=plan.iterations,
        seed=plan.seed,
        start=before,
        on_alive=lambda so_far_s: due_work.renew(work_id, now=now + timedelta(seconds=so_far_s)),
    )
    if outcome is None:
        return {"failure": failure}
    after = read_plan(outcome)
    found = difference(before, after, moves(frame_of(day), before, after))
    return {
        "before": before.cost.total,
        "after": after.cost.total,
        "served": list(found.newly_served),
        "left_out": list(found.newly_left_out),
        "overtime_saved_s": found.overtime_saved_s,
        "moved": len([m for m in found.moves if m.visit not in {*found.newly_served, *found.newly_left_out}]),
        "extra_stops": sum(len(route.stops) for route in after.routes if route.crew == EXTRA),
    }


def register() -> None:
    """Let due work answer, in the queue whose solver never delays a page."""
    due_work.register(ANSWER, answer, lease=planning.SOLVING_LEASE, tries=2, queue="plan", given_up=_given_up)


def _given_up(*, now: datetime, work_id: int, **asked: Any) -> None:
    """The page reads the failure from the row itself."""
