"""Making several callers of one loss one job, and taking them apart again; what each of them said stays theirs."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.contrib.auth.models import User

from jobs import clocks, intake, journal
from jobs.models import Call, Contact, Job, JournalEntry
from jobs.phones import standard
from jobs.refusals import Refusal
from jobs.use_case import key_for, use_case
from jobs.visits import locked_job


class NotJoined(Refusal):
    """The call was not joined to a job by its caller's word, so there is nothing to take apart."""

    code = "not_joined"


@dataclass(frozen=True)
class CallerJoined:
    """The job that the call belongs to now, and the person it added, if they were not there before."""

    call_id: int
    job_id: int
    job_number: str
    contact_id: int | None


@dataclass(frozen=True)
class CallerSplit:
    """The call on its own again, and when its caller hears from us."""

    call_id: int
    next_contact_at: datetime


@use_case("join_caller")
def join_caller(*, key: UUID, actor: User, now: datetime, call_id: int, job_id: int) -> CallerJoined:
    """
    End a call as one about a known job; its caller becomes one of the job's people. The call keeps every answer.

    :raises JobOver: if the job is closed.
    :raises CallOver: if the call has ended.
    """
    job = locked_job(job_id)
    call = intake.locked_call(call_id)
    intake.end_call(
        key=key_for(key, "end"),
        actor=actor,
        now=now,
        call_id=call_id,
        ended_as=Call.EndedAs.KNOWN_JOB,
        job_id=job_id,
    )
    contact = _add_caller(call, job)
    journal.note(
        kind="caller_joined",
        actor=actor,
        now=now,
        job=job,
        data={"call": call.pk, "contact": None if contact is None else contact.pk},
    )
    return CallerJoined(call.pk, job.pk, job.number, None if contact is None else contact.pk)


@use_case("split_caller")
def split_caller(*, key: UUID, actor: User, now: datetime, call_id: int) -> CallerSplit:
    """
    Take a joined call off its job again: it is open with all its answers, its caller waits for the next contact.

    The person whom joining added leaves the job; the call still holds their name and number.

    :raises NotJoined: if the call did not end as one about a known job.
    """
    call = Call.objects.select_related("job").filter(pk=call_id).first() or intake.locked_call(call_id)
    if call.job_id is not None:
        # The job comes first, as in joining, so that two of them never wait on each other.
        Job.objects.select_for_update(of=("self",)).get(pk=call.job_id)
    call = intake.locked_call(call_id)
    job = call.job
    if job is None or call.ended_as != Call.EndedAs.KNOWN_JOB:
        raise NotJoined("This call was not joined to a job. Open its job instead.", call=call_id)
    joined = JournalEntry.objects.filter(job=job, kind="caller_joined", data__call=call_id).order_by("-pk").first()
    if joined is not None and joined.data["contact"] is not None:
        Contact.objects.filter(pk=joined.data["contact"], job=job).delete()
    call.job, call.ended_at, call.ended_as = None, None, ""
    following = clocks.begin_call_back(call, now=now)
    call.next_contact_at, call.owner, call.touched_at = following.due_at, actor, now
    call.save(update_fields=["job", "ended_at", "ended_as", "next_contact_at", "owner", "touched_at"])
    journal.note(kind="caller_split", actor=actor, now=now, job=job, data={"call": call.pk})
    return CallerSplit(call.pk, following.due_at)


def _add_caller(call: Call, job: Job) -> Contact | None:
    """The caller as one of the job's people; None if nothing is known of them or their number is there already."""
    phone, name = standard(call.private_answers.get("callback_number", "")), call.private_answers.get("caller_name", "")
    if not (phone or name) or (phone and job.contacts.filter(phone=phone).exists()):
        return None
    role = call.answers.get("caller_role", "caller")
    return Contact.objects.create(job=job, role=role, name=name[:80], phone=phone)
