"""A call that ends with a booked visit instead of a crew tonight."""

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.contrib.auth.models import User

from jobs import intake, opening, visits
from jobs.models import Call, Visit
from jobs.refusals import Unusable
from jobs.use_case import key_for, use_case


@dataclass(frozen=True)
class Booked:
    """The job and its visit."""

    job_id: int
    job_number: str
    visit_id: int
    due_on: date


@use_case("book_visit")
def book_visit(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    call_id: int,
    due_on: date,
    window_from: datetime | None = None,
    window_until: datetime | None = None,
    kind: str = Visit.Kind.FIRST,
    note: str = "",
) -> Booked:
    """
    Open the job and promise a visit on a day, perhaps within a window; ends the call.

    :raises NotEnoughYet: without a way to call back and a place.
    :raises WindowOutOfOrder: if the window has one end, or its end before its start.
    """
    call = intake.locked_call(call_id)
    if due_on < now.astimezone(call.area.zone).date():
        raise Unusable("This day has passed. Choose today or a later one.", where="due_on")
    opened = opening.open_job(call_id=call_id, actor=actor, now=now, to_book=True)
    visit = visits.add_visit(
        key=key_for(key, "visit"),
        actor=actor,
        now=now,
        job_id=opened.job_id,
        kind=kind,
        due_on=due_on,
        window_from=window_from,
        window_until=window_until,
        note=note,
    )
    intake.end_call(key=key_for(key, "end"), actor=actor, now=now, call_id=call_id, ended_as=Call.EndedAs.BOOKED)
    return Booked(opened.job_id, opened.number, visit.visit_id, due_on)
