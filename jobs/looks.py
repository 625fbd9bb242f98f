"""Who saw private facts and who changed them: written by the frame of all pages, read by the manager."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.contrib.auth.models import User
from django.db.models import Q, QuerySet

from jobs import access
from jobs.calls.fields import FIELDS
from jobs.models import Call, Job, PrivateLook, UseCaseCall

# A page that is open asks again and again; that is one look.
SAME_LOOK = timedelta(minutes=15)


@dataclass(frozen=True)
class Look:
    """One row of the trail: when, who, saw or changed what, of which call or job."""

    at: datetime
    who: str
    did: str
    what: str
    call_id: int | None
    job_number: str


def note(*, viewer: User, now: datetime, what: str, call_id: int | None = None, job_id: int | None = None) -> None:
    """Write down that somebody looked; the same look within a quarter of an hour is one."""
    rows = PrivateLook.objects.filter(viewer=viewer, what=what)
    rows = rows.filter(call__isnull=True) if call_id is None else rows.filter(call_id=call_id)
    rows = rows.filter(job__isnull=True) if job_id is None else rows.filter(job_id=job_id)
    if not rows.filter(looked_at__gt=now - SAME_LOOK).exists():
        PrivateLook.objects.create(viewer=viewer, call_id=call_id, job_id=job_id, what=what, looked_at=now)


def trail(
    viewer: User, *, since: datetime, job_number: str = "", user_name: str = "", at_most: int = 300
) -> tuple[Look, ...]:
    """Looks and changes in the viewer's areas, the newest first (5 queries)."""
    rows = [
        *_seen(viewer, since, job_number, user_name, at_most),
        *_changed(viewer, since, job_number, user_name, at_most),
    ]
    return tuple(sorted(rows, key=lambda row: row.at, reverse=True)[:at_most])


def _seen(viewer: User, since: datetime, job_number: str, user_name: str, at_most: int) -> list[Look]:
    rows = PrivateLook.objects.filter(looked_at__gte=since).select_related("viewer", "job", "call__job")
    mine = access.areas_of(viewer)
    if mine is not None:
        rows = rows.filter(Q(call__area__in=mine) | Q(job__area__in=mine))
    if job_number:
        rows = rows.filter(Q(job__number=job_number) | Q(call__job__number=job_number))
    if user_name:
        rows = rows.filter(viewer__username=user_name)
    return [
        Look(
            row.looked_at,
            row.viewer.username,
            "saw",
            row.what,
            row.call_id,
            _number(row.job or (row.call.job if row.call else None)),
        )
        for row in rows.order_by("-looked_at")[:at_most]
    ]


def _changed(viewer: User, since: datetime, job_number: str, user_name: str, at_most: int) -> list[Look]:
    """Private answers that were saved: the record of the use case says who and when, and not the value."""
    private = [field.key for field in FIELDS if field.private]
    calls = _calls(viewer, job_number)
    rows = UseCaseCall.objects.filter(
        verb="answer_call", outcome=UseCaseCall.Outcome.DONE, now__gte=since, arguments__field__in=private
    ).select_related("actor")
    if user_name:
        rows = rows.filter(actor__username=user_name)
    found = list(rows.order_by("-now")[: at_most * 2])
    known = {call.pk: call for call in calls.filter(pk__in={row.arguments["call_id"] for row in found})}
    return [
        Look(
            row.now, row.actor.username, "changed", row.arguments["field"].replace("_", " "), call.pk, _number(call.job)
        )
        for row in found
        if (call := known.get(row.arguments["call_id"])) is not None
    ]


def _calls(viewer: User, job_number: str) -> QuerySet[Call]:
    calls, mine = Call.objects.select_related("job"), access.areas_of(viewer)
    if mine is not None:
        calls = calls.filter(area__in=mine)
    return calls.filter(job__number=job_number) if job_number else calls


def _number(job: Job | None) -> str:
    return "" if job is None else job.number
