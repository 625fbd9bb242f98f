"""Taking a call: a number is enough to start, every field is saved as it is typed, and it ends in exactly one way."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.contrib.auth.models import User

from jobs import clocks, journal
from jobs.calls.answers import is_private, keep, label_of, read, value_of
from jobs.clock_times import elapsed
from jobs.models import Area, Call, Job
from jobs.refusals import ChangedMeanwhile, NotThere, Refusal, Unusable
from jobs.use_case import use_case


class CallNotThere(NotThere):
    """No such call."""

    code = "call_not_found"


class CallOver(Refusal):
    """The call has ended; what was answered stays as it was."""

    code = "call_over"


class EndNeedsReason(Refusal):
    """A call that needs no crew ends with a reason."""

    code = "end_needs_reason"
    status = 422


class EndNeedsJob(Refusal):
    """A call ends as sent, booked or known only when the job it belongs to is named."""

    code = "end_needs_job"
    status = 422


@dataclass(frozen=True)
class CallTaken:
    """A call that has begun; `version` of the number is 1 when one was given."""

    call_id: int
    area_id: int


@dataclass(frozen=True)
class FieldSaved:
    """
    A field as it is kept now; a private one without its value, since answers are recorded and never erased.

    `version` is what the next save of this field must have seen.
    """

    call_id: int
    field: str
    value: Any
    version: int


@dataclass(frozen=True)
class CallEnded:
    """How a call ended."""

    call_id: int
    ended_as: str
    job_id: int | None


@use_case("take_call", private=("callback_number",))
def take_call(*, key: UUID, actor: User, now: datetime, area_id: int, callback_number: str = "") -> CallTaken:
    """
    Begin a call. Nothing is required; a number makes it one that can be called back.

    :raises Unusable: if the number holds letters.
    :raises NotThere: if there is no such area.
    """
    if not Area.objects.filter(pk=area_id).exists():
        raise NotThere("There is no such service area. Choose one of those in the list.", where="area_id")
    number = read("callback_number", callback_number)
    call = Call.objects.create(
        area_id=area_id,
        started_at=now,
        touched_at=now,
        taken_by=actor,
        owner=actor,
        private_answers={"callback_number": number} if number else {},
        versions={"callback_number": 1} if number else {},
        next_contact_at=elapsed(now, minutes=clocks.call_back_minutes(now)),
    )
    clocks.begin_call_back(call, now=now)
    journal.note(kind="call_taken", actor=actor, now=now, area_id=area_id, data={"call": call.pk})
    return CallTaken(call.pk, area_id)


@use_case("answer_call", private=("value",))
def answer_call(
    *, key: UUID, actor: User, now: datetime, call_id: int, field: str, value: Any, seen: int
) -> FieldSaved:
    """
    Save one field as typed. `seen` is the version that the writer last saw of this field; 0 for none.

    Fields are those of `jobs.calls.fields`, `rooms` for the whole list, and `room:ID:CELL` or `room:ID:line` for one
    room, whose id the client makes.

    :raises Unusable: if the value cannot be meant; nothing that was kept is lost.
    :raises ChangedMeanwhile: if another save of this field came first and differs; both values are in the data.
    :raises CallOver: if the call has ended.
    """
    call = locked_call(call_id)
    if call.ended_at is not None:
        raise CallOver("This call has ended. Add what is new on the job's page.", call=call_id)
    new = read(field, value)
    kept, version = value_of(call, field), call.versions.get(field, 0)
    if new != kept:
        if seen != version:
            raise ChangedMeanwhile(
                f"{label_of(field)} was changed on another screen meanwhile. Both are kept here: choose one.",
                where=field,
                theirs=kept,
                yours=new,
                version=version,
            )
        keep(call, field, new)
        call.touched_at = now
        call.save(update_fields=["answers", "private_answers", "rooms", "versions", "touched_at"])
    return FieldSaved(call.pk, field, None if is_private(field) else new, call.versions.get(field, 0))


@use_case("end_call", private=("reason",))
def end_call(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    call_id: int,
    ended_as: str,
    reason: str = "",
    job_id: int | None = None,
) -> CallEnded:
    """
    End a call: `sent`, `booked`, `known_job` (with the job) or `no_crew` (with the reason).

    :raises EndNeedsReason: for `no_crew` without a reason.
    :raises EndNeedsJob: for the others, when no job is known.
    :raises CallOver: if the call has ended in another way.
    """
    call = locked_call(call_id)
    if ended_as not in Call.EndedAs.values:
        raise Unusable(f"A call ends as one of: {', '.join(Call.EndedAs.values)}.", where="ended_as")
    if call.ended_at is not None:
        raise CallOver(f"This call has already ended: {call.get_ended_as_display()}.", call=call_id)
    job = Job.objects.filter(pk=job_id).first() if job_id is not None else call.job
    if ended_as == Call.EndedAs.NO_CREW and not reason.strip():
        raise EndNeedsReason("Say in a few words why no crew is needed.", where="reason")
    if ended_as != Call.EndedAs.NO_CREW and job is None:
        raise EndNeedsJob("Name the job that this call belongs to.", where="job_id")
    if ended_as != Call.EndedAs.NO_CREW:
        call.job = job
    call.ended_at, call.ended_as, call.end_reason = now, ended_as, reason.strip()[:300]
    call.next_contact_at = None
    call.save(update_fields=["ended_at", "ended_as", "end_reason", "job", "next_contact_at"])
    clocks.end_of_call(call, actor=actor, now=now)
    journal.note(
        kind="call_ended",
        actor=actor,
        now=now,
        job=call.job,
        area_id=call.area_id,
        data={"call": call.pk, "ended_as": ended_as},
    )
    return CallEnded(call.pk, ended_as, call.job_id)


def locked_call(call_id: int) -> Call:
    """
    The call, kept from others until the transaction ends.

    :raises CallNotThere: if there is none.
    """
    call = Call.objects.select_for_update(of=("self",)).filter(pk=call_id).first()
    if call is None:
        raise CallNotThere(f"There is no call {call_id}. Open the list of calls and choose one.", call=call_id)
    return call
