"""Agreeing another time for a visit that a crew already has on its route."""

from datetime import datetime
from uuid import UUID

from django.contrib.auth.models import User

from dispatch import callouts, routes
from dispatch.models import Stop
from jobs import clocks, journal
from jobs.models import Promise, Visit
from jobs.use_case import use_case


@use_case("agree_another_time", private=("with_whom",))
def agree_another_time(
    *, key: UUID, actor: User, now: datetime, promise_id: int, new_due_at: datetime, with_whom: str
) -> clocks.ClockEnded:
    """
    Agree a later time with somebody; a visit whose crew will not be at work then leaves its route and is due again.

    :raises AgreementNeedsName: without saying with whom.
    :raises PromiseOver: if the clock has ended.
    """
    ended = clocks.agree_another_time(
        key=key, actor=actor, now=now, promise_id=promise_id, new_due_at=new_due_at, with_whom=with_whom
    )
    visit_id = Promise.objects.values_list("visit_id", flat=True).get(pk=promise_id)
    stop = Stop.objects.filter(visit_id=visit_id).first() if visit_id is not None else None
    if stop is not None:
        routes.lock_crews([stop.crew_id])
        _leave_route(stop.visit_id, actor=actor, now=now, new_due_at=new_due_at)
    return ended


def _leave_route(visit_id: int, *, actor: User, now: datetime, new_due_at: datetime) -> None:
    stop = Stop.objects.select_related("crew", "visit__job").filter(visit_id=visit_id).first()
    if stop is None or stop.visit.left_at is not None or new_due_at <= stop.crew.at_latest:
        return
    visit = stop.visit
    routes.take_off_route([visit.pk])
    Visit.objects.filter(pk=visit.pk).update(promised_start=None)
    callouts.cancel(visit=visit, now=now)
    journal.note(
        kind="visit_left_route",
        actor=actor,
        now=now,
        job=visit.job,
        data={"visit": visit.pk, "from_crew": stop.crew_id},
    )
