"""Visits: what is due at a job, how one goes, and that an open job always has a next one."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.contrib.auth.models import User

from jobs import access, clocks, journal
from jobs.models import Job, Visit
from jobs.refusals import NotThere, Refusal, Unusable
from jobs.use_case import use_case

# Seconds on site (common practice, no source); a first visit grows with the rooms.
SERVICE_S: Mapping[str, int] = {
    Visit.Kind.EMERGENCY: 9000,
    Visit.Kind.FIRST: 9000,
    Visit.Kind.MONITORING: 2700,
    Visit.Kind.PICK_UP: 3600,
    Visit.Kind.DELIVERY: 1800,
    Visit.Kind.REFUEL: 1200,
    Visit.Kind.INSPECTION: 2700,
}
OPEN = (Visit.State.DUE, Visit.State.UNDER_WAY)
_STAGES_DRYING = (Job.Stage.SENT, Job.Stage.DRYING)


class JobNotThere(NotThere):
    """No such job."""

    code = "job_not_found"


class VisitNotThere(NotThere):
    """No such visit."""

    code = "visit_not_found"


class JobOver(Refusal):
    """The job is closed."""

    code = "job_over"


class VisitOver(Refusal):
    """The visit is done, missed or canceled."""

    code = "visit_over"


class WindowOutOfOrder(Refusal):
    """A promised window whose end comes before its start, or that has only one end."""

    code = "window_out_of_order"
    status = 422


class ReasonMissing(Refusal):
    """A visit that does not happen needs its reason, and who was told."""

    code = "reason_missing"
    status = 422


class MissedTwice(Refusal):
    """The visit before did not happen either: a second time in a row needs a manager."""

    code = "missed_twice"


@dataclass(frozen=True)
class VisitAdded:
    """A visit that is due now."""

    visit_id: int
    job_id: int
    due_on: date


@dataclass(frozen=True)
class VisitMissed:
    """A visit that did not happen, and the one that takes its place."""

    visit_id: int
    next_visit_id: int
    due_on: date


@use_case("add_visit")
def add_visit(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    job_id: int,
    kind: str,
    due_on: date,
    window_from: datetime | None = None,
    window_until: datetime | None = None,
    due_at: datetime | None = None,
    promised_start: datetime | None = None,
    service_s: int | None = None,
    needs: dict[str, Any] | None = None,
    note: str = "",
    follows: int | None = None,
) -> VisitAdded:
    """
    Add a visit. `due_on` is the day in the job's own zone; a window is promised to the customer, both ends included.

    :raises JobOver: if the job is closed.
    :raises WindowOutOfOrder: if the window has one end, or its end before its start.
    """
    job = locked_job(job_id)
    if kind not in Visit.Kind.values:
        raise Unusable(f"A visit is one of: {', '.join(Visit.Kind.values)}.", where="kind")
    if service_s is not None and not 0 <= service_s <= 24 * 3600:
        raise Unusable("A visit lasts at most a day; 2700 seconds are 45 minutes.", where="service_s")
    if (window_from is None) != (window_until is None) or (
        window_from is not None and window_until is not None and window_until < window_from
    ):
        raise WindowOutOfOrder("A window has a start and a later end. Give both, or none.", where="window_until")
    visit = Visit.objects.create(
        job=job,
        kind=kind,
        due_on=due_on,
        window_from=window_from,
        window_until=window_until,
        due_at=due_at,
        promised_start=promised_start,
        service_s=SERVICE_S[kind] if service_s is None else service_s,
        needs=needs or {},
        note=note.strip()[:300],
        follows_id=follows,
    )
    clocks.begin_of_visit(visit, now=now)
    journal.note(
        kind="visit_added", actor=actor, now=now, job=job, data={"visit": visit.pk, "kind": kind, "on": str(due_on)}
    )
    return VisitAdded(visit.pk, job.pk, due_on)


@use_case("miss_visit")
def miss_visit(
    *, key: UUID, actor: User, now: datetime, visit_id: int, reason: str, told: str, new_time: datetime
) -> VisitMissed:
    """
    Record that a visit will not happen: why, who was told, and when instead.

    :raises ReasonMissing: without a reason, or without anybody told.
    :raises MissedTwice: if the visit before was missed too and the actor is no manager.
    """
    visit = locked_visit(visit_id)
    if not reason.strip() or not told.strip():
        raise ReasonMissing(
            "Say why the visit is missed and who was told.", where="told" if reason.strip() else "reason"
        )
    again = visit.follows is not None and visit.follows.state in (Visit.State.MISSED, Visit.State.CANNOT_WORK)
    if again and not access.roles_of(actor) & {access.MANAGER, access.SYSTEM}:
        raise MissedTwice("The visit before did not happen either. A second one in a row is for a manager to decide.")
    if new_time <= now:
        raise Unusable("The new time has already passed. Choose a later one.", where="new_time")
    visit.state, visit.reason, visit.told = Visit.State.MISSED, reason.strip()[:300], told.strip()[:120]
    visit.save(update_fields=["state", "reason", "told"])
    clocks.end_of_visit(
        visit, happened_at=now, actor=actor, now=now, why="visit_missed", with_whom=visit.told, came=False
    )
    following = follow_up(visit, at=new_time, on=next_day(visit.job, now), now=now)
    journal.note(
        kind="visit_missed", actor=actor, now=now, job=visit.job, data={"visit": visit.pk, "next": following.pk}
    )
    return VisitMissed(visit.pk, following.pk, following.due_on)


def ensure_next_visit(*, job: Job, on: date, actor: User, now: datetime) -> Visit | None:
    """
    See that an open job has a next visit: at goal a pick-up, otherwise monitoring, due on the day `on` at the earliest.

    The visit that was added, or None when one is due already or the job needs none. The caller's transaction.
    """
    due = job.visits.filter(state__in=OPEN).exclude(kind=Visit.Kind.REFUEL)
    if job.stage not in (*_STAGES_DRYING, Job.Stage.AT_GOAL) or due.exists():
        return None
    kind = Visit.Kind.PICK_UP if job.stage == Job.Stage.AT_GOAL else Visit.Kind.MONITORING
    visit = Visit.objects.create(job=job, kind=kind, due_on=on, service_s=SERVICE_S[kind])
    clocks.begin_of_visit(visit, now=now)
    journal.note(
        kind="visit_added", actor=actor, now=now, job=job, data={"visit": visit.pk, "kind": kind, "on": str(on)}
    )
    return visit


def turn_into_pick_up(*, job: Job, actor: User, now: datetime) -> Visit | None:
    """Make the next due monitoring visit a pick-up, since every point is at goal; None if none is due."""
    visit = job.visits.filter(state=Visit.State.DUE, kind=Visit.Kind.MONITORING).order_by("due_on", "pk").first()
    if visit is not None:
        visit.kind, visit.service_s = Visit.Kind.PICK_UP, SERVICE_S[Visit.Kind.PICK_UP]
        visit.save(update_fields=["kind", "service_s"])
        journal.note(kind="visit_is_pick_up", actor=actor, now=now, job=job, data={"visit": visit.pk})
    return visit


def locked_job(job_id: int, *, open_only: bool = True) -> Job:
    """
    The job, kept from others until the transaction ends.

    :raises JobNotThere: if there is none.
    :raises JobOver: if it is closed and an open one is wanted.
    """
    job = Job.objects.select_for_update(of=("self",)).filter(pk=job_id).first()
    if job is None:
        raise JobNotThere(f"There is no job with the id {job_id}. Choose one from the list of jobs.", job=job_id)
    if open_only and job.joined_to is not None:
        raise JobOver(
            f"Job {job.number} was joined to {job.joined_to.number}, which goes on in its place. Use that one.",
            job=job_id,
            joined_to=job.joined_to.number,
        )
    if open_only and job.stage == Job.Stage.CLOSED:
        raise JobOver(f"Job {job.number} is closed. What is new needs a new call.", job=job_id)
    return job


def locked_visit(visit_id: int) -> Visit:
    """
    An open visit with its job; the job is locked first, as everywhere, so that two writers never wait on each other.

    :raises VisitNotThere: if there is none.
    :raises VisitOver: if it is done, missed or canceled.
    """
    job_id = Visit.objects.filter(pk=visit_id).values_list("job_id", flat=True).first()
    if job_id is None:
        raise VisitNotThere(f"There is no visit {visit_id}. Choose one from the job's visits.", visit=visit_id)
    job = locked_job(job_id)
    visit = Visit.objects.select_related("follows").get(pk=visit_id)
    visit.job = job
    if visit.state not in OPEN:
        raise VisitOver(
            f"This visit is over: {visit.get_state_display()}. Add a new one if another is needed.", visit=visit_id
        )
    return visit


def next_day(job: Job, now: datetime) -> date:
    """Tomorrow, by the job's own clock."""
    return now.astimezone(ZoneInfo(job.time_zone)).date() + timedelta(days=1)


def follow_up(visit: Visit, *, at: datetime | None, on: date, now: datetime) -> Visit:
    """A visit of the same kind at a new time, or on a new day, which follows the one that did not happen."""
    following = Visit.objects.create(
        job=visit.job,
        kind=visit.kind,
        due_on=at.astimezone(ZoneInfo(visit.job.time_zone)).date() if at else on,
        due_at=at,
        service_s=visit.service_s,
        needs=visit.needs,
        note=visit.note,
        follows=visit,
    )
    clocks.begin_of_visit(following, now=now)
    return following
