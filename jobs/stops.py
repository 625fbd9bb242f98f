"""How a visit goes, as the crew says it: leaving, arrived, finished, or could not work."""

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.contrib.auth.models import User

from jobs import clocks, journal
from jobs.happened import when
from jobs.models import Job, Visit
from jobs.refueling import after_refueling
from jobs.use_case import use_case
from jobs.visits import (
    ReasonMissing,
    ensure_next_visit,
    follow_up,
    locked_visit,
    next_day,
)


@dataclass(frozen=True)
class StopState:
    """Where a visit stands now; `next_visit_id` and `next_on` once it has ended and another is due."""

    visit_id: int
    job_id: int
    state: str
    stage: str
    next_visit_id: int | None = None
    next_on: date | None = None


@use_case("leave_for_stop")
def leave_for_stop(
    *, key: UUID, actor: User, now: datetime, visit_id: int, happened_at: datetime | None = None
) -> StopState:
    """The crew leaves for a stop. `happened_at` is when it really did, where that was recorded without network."""
    visit, at = locked_visit(visit_id), when(happened_at, now)
    visit.state, visit.left_at = Visit.State.UNDER_WAY, visit.left_at or at
    visit.save(update_fields=["state", "left_at"])
    _stage(visit.job, {Job.Stage.WAITING: Job.Stage.SENT}, actor, now)
    return _noted("crew_left", visit, actor, now, at)


@use_case("arrive_at_stop")
def arrive_at_stop(
    *, key: UUID, actor: User, now: datetime, visit_id: int, happened_at: datetime | None = None
) -> StopState:
    """The crew is at the door."""
    visit, at = locked_visit(visit_id), when(happened_at, now)
    visit.state, visit.arrived_at = Visit.State.UNDER_WAY, visit.arrived_at or at
    visit.save(update_fields=["state", "arrived_at"])
    clocks.end_of_visit(visit, happened_at=at, actor=actor, now=now, why="crew_arrived")
    _stage(visit.job, {Job.Stage.WAITING: Job.Stage.SENT}, actor, now)
    return _noted("crew_arrived", visit, actor, now, at)


@use_case("finish_stop")
def finish_stop(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    visit_id: int,
    happened_at: datetime | None = None,
    note: str = "",
) -> StopState:
    """The crew is done here; a job that goes on gets its visit of the next day."""
    visit, at = locked_visit(visit_id), when(happened_at, now)
    visit.state, visit.finished_at, visit.arrived_at = Visit.State.DONE, at, visit.arrived_at or at
    visit.note = note.strip()[:300] or visit.note
    visit.save(update_fields=["state", "finished_at", "arrived_at", "note"])
    clocks.end_of_visit(visit, happened_at=visit.arrived_at, actor=actor, now=now, why="visit_finished")
    if visit.kind in (Visit.Kind.EMERGENCY, Visit.Kind.FIRST):
        clocks.begin_report(visit.job, first_visit_ended_at=at)
        _stage(visit.job, {Job.Stage.WAITING: Job.Stage.DRYING, Job.Stage.SENT: Job.Stage.DRYING}, actor, now)
    if visit.kind == Visit.Kind.PICK_UP:
        _stage(
            visit.job,
            dict.fromkeys((Job.Stage.SENT, Job.Stage.DRYING, Job.Stage.AT_GOAL), Job.Stage.PICKED_UP),
            actor,
            now,
        )
    if visit.kind == Visit.Kind.REFUEL:
        after_refueling(visit, filled_at=at, actor=actor, now=now)
    following = ensure_next_visit(job=visit.job, on=next_day(visit.job, at), actor=actor, now=now)
    return _noted("visit_finished", visit, actor, now, at, following)


@use_case("cannot_work")
def cannot_work(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    visit_id: int,
    reason: str,
    told: str = "",
    new_time: datetime | None = None,
    happened_at: datetime | None = None,
) -> StopState:
    """
    The crew was there, or nearly, and could not work: no access, no signature, no power, wrong crew. The visit moves
    to `new_time`, or to the next day.

    :raises ReasonMissing: without a reason.
    """
    visit, at = locked_visit(visit_id), when(happened_at, now)
    if not reason.strip():
        raise ReasonMissing("Say what kept the crew from working.", where="reason")
    visit.state, visit.finished_at = Visit.State.CANNOT_WORK, at
    visit.reason, visit.told = reason.strip()[:300], told.strip()[:120]
    visit.save(update_fields=["state", "finished_at", "reason", "told"])
    clocks.end_of_visit(
        visit, happened_at=at, actor=actor, now=now, why="could_not_work", with_whom=visit.told, came=False
    )
    following = follow_up(visit, at=new_time, on=next_day(visit.job, at), now=now)
    return _noted("could_not_work", visit, actor, now, at, following)


def _stage(job: Job, moves: dict[Job.Stage, Job.Stage], actor: User, now: datetime) -> None:
    new = moves.get(Job.Stage(job.stage))
    if new is None:
        return
    journal.note(kind="stage_changed", actor=actor, now=now, job=job, data={"from": job.stage, "to": str(new)})
    job.stage = new
    job.save(update_fields=["stage"])


def _noted(
    kind: str, visit: Visit, actor: User, now: datetime, at: datetime, following: Visit | None = None
) -> StopState:
    data = {"visit": visit.pk, **({"next": following.pk} if following else {})}
    journal.note(kind=kind, actor=actor, now=now, job=visit.job, happened_at=at, data=data)
    return StopState(
        visit.pk,
        visit.job.pk,
        visit.state,
        visit.job.stage,
        following.pk if following else None,
        following.due_on if following else None,
    )
