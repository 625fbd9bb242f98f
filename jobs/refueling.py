"""Refueling visits: a generator at a job needs one every so many hours, day and night, until it is taken up."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from django.contrib.auth.models import User

from jobs import clocks, journal
from jobs.models import Job, Visit
from jobs.rules import figure

OPEN = (Visit.State.DUE, Visit.State.UNDER_WAY)


def every(at: datetime) -> timedelta:
    """How long one filling lasts, by the rule of that day."""
    return timedelta(hours=figure("refuel_every_hours", on=at.date()))


def see_to_it(job: Job, *, since: datetime, until: datetime | None = None, actor: User, now: datetime) -> list[Visit]:
    """
    See that a job with a generator has its refueling: one open visit at least, and all that fall due before `until`.

    `since` is when it was last filled. The visits that were added; the caller's transaction.
    """
    open_visits = job.visits.filter(kind=Visit.Kind.REFUEL, state__in=OPEN, due_at__isnull=False)
    last = open_visits.order_by("-due_at").values_list("due_at", flat=True).first()
    added: list[Visit] = []
    due_at = (last or since) + every(now)
    while (last is None and not added) or (until is not None and due_at < until):
        added.append(_add(job, due_at, actor, now))
        due_at += every(now)
    return added


def after_refueling(visit: Visit, *, filled_at: datetime, actor: User, now: datetime) -> Visit | None:
    """What follows a refueling: the next one, unless another is due already; the caller's transaction."""
    added = see_to_it(visit.job, since=filled_at, actor=actor, now=now)
    return added[0] if added else None


def no_more(job: Job, *, actor: User, now: datetime) -> tuple[int, ...]:
    """No generator stands there any more: refueling that is due is no longer needed; the caller's transaction."""
    return cancel_due(job, kinds=(Visit.Kind.REFUEL,), why="generator_taken_up", actor=actor, now=now)


def cancel_due(job: Job, *, kinds: tuple[str, ...], why: str, actor: User, now: datetime) -> tuple[int, ...]:
    """Cancel what is due of these kinds, not what is under way; nothing is owed of it. The caller's transaction."""
    canceled = []
    for visit in job.visits.filter(kind__in=kinds, state=Visit.State.DUE):
        clocks.end_of_visit(visit, happened_at=now, actor=actor, now=now, why=why)
        visit.state = Visit.State.CANCELED
        visit.save(update_fields=["state"])
        canceled.append(visit.pk)
    if canceled:
        journal.note(kind="visits_canceled", actor=actor, now=now, job=job, data={"visits": canceled, "why": why})
    return tuple(canceled)


def _add(job: Job, due_at: datetime, actor: User, now: datetime) -> Visit:
    on = due_at.astimezone(ZoneInfo(job.time_zone)).date()
    visit = Visit.objects.create(
        job=job,
        kind=Visit.Kind.REFUEL,
        due_on=on,
        due_at=due_at,
        service_s=int(figure("refuel_seconds", on=on)),
        needs={},
        note=f"Refuel the generator by about {due_at.astimezone(ZoneInfo(job.time_zone)):%-I:%M %p}.",
    )
    clocks.begin_of_visit(visit, now=now)
    journal.note(
        kind="visit_added", actor=actor, now=now, job=job, data={"visit": visit.pk, "kind": "refuel", "on": str(on)}
    )
    return visit
