"""Messages to people: written with the change that causes them, sent afterwards, kept with what became of them."""

import logging
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import transaction

from dispatch import answer_tokens, call_out_timers, transports
from dispatch.models import CallOut, CallOutStep, Notice, Person
from equipment.models import Alarm
from jobs import due_work
from jobs.models import Contact, Job, Visit

log = logging.getLogger(__name__)
SEND = "dispatch.send_notice"
# A try takes ten seconds at most by the transports' own limits.
SENDING_LEASE = timedelta(minutes=1)


def write(
    *,
    key: UUID,
    area_id: int,
    text: str,
    now: datetime,
    person: Person | None = None,
    contact: Contact | None = None,
    visit: Visit | None = None,
    step: CallOutStep | None = None,
) -> Notice:
    """
    Write a message to one of us (`person`) or to someone of the job (`contact`), in the caller's transaction.

    A worker sends it once that is committed. A page names its `step`: the link to answer by goes out with it, it is not
    sent any more when the step is over, and when it cannot be sent the next person is asked at once.
    """
    values = {
        "area_id": area_id,
        "person": person,
        "contact": contact,
        "visit": visit,
        "step": step,
        "text": text,
        "made_at": now,
    }
    notice, made = Notice.objects.get_or_create(key=key, defaults=values)
    if made:
        due_work.enqueue(kind=SEND, arguments={"notice_id": notice.pk}, due_at=now, now=now)
    return notice


def send_notice(*, now: datetime, work_id: int, notice_id: int) -> dict[str, Any]:
    """
    Handler: send one message that waits.

    :raises Exception: whatever the transport raises while tries are left, so that it is tried again later.
    """
    notice = Notice.objects.select_related("person__user", "contact", "step__call_out", "visit__job").get(pk=notice_id)
    if notice.state != Notice.State.WAITING:
        return {"state": notice.state}
    if notice.step is not None and _is_over(notice.step):
        return _end(notice, Notice.State.NOT_NEEDED)
    way = way_for(notice)
    Notice.objects.filter(pk=notice.pk).update(way=way, tries=notice.tries + 1)
    try:
        transports.send(way, _message(notice))
    except transports.Undeliverable as error:
        return _failed(notice, str(error), now, for_good=True)
    except Exception as error:
        if notice.tries + 1 < settings.NOTICE_TRIES:
            Notice.objects.filter(pk=notice.pk).update(failure=str(error)[:200])
            raise
        log.exception("message %s was tried %s times", notice.pk, settings.NOTICE_TRIES)
        return _failed(notice, str(error) or type(error).__name__, now, for_good=False)
    return _end(notice, Notice.State.SENT, sent_at=now, failure="")


def way_for(notice: Notice) -> str:
    """How the message goes: as was chosen for whoever gets it, else as usual here."""
    receiver = notice.person or notice.contact
    return (receiver.reach_by if receiver is not None else "") or settings.NOTICE_WAY


def register() -> None:
    """Let due work send messages; one more try than there are, since a try whose runner died counts here only."""
    due_work.register(SEND, send_notice, lease=SENDING_LEASE, tries=settings.NOTICE_TRIES + 5)


def _message(notice: Notice) -> transports.Message:
    receiver = notice.person or notice.contact
    if receiver is None:
        raise transports.Undeliverable("Whoever was to be told is not on record any more.")
    email = notice.person.user.email if notice.person is not None else notice.contact.email if notice.contact else ""
    link = "" if notice.step is None else answer_tokens.link_to(notice.step)
    text = f"{notice.text} {link}".strip()
    return transports.Message(key=notice.key, phone=receiver.phone, email=email, text=text)


def _is_over(step: CallOutStep) -> bool:
    return bool(step.answer) or step.call_out.state != CallOut.State.ASKING


def _end(notice: Notice, state: Notice.State, **values: Any) -> dict[str, Any]:
    """Only from waiting: whoever tried the same message at the same time may have ended it already."""
    Notice.objects.filter(pk=notice.pk, state=Notice.State.WAITING).update(state=state, **values)
    return {"state": state.value}


def _failed(notice: Notice, why: str, now: datetime, *, for_good: bool) -> dict[str, Any]:
    with transaction.atomic():
        ended = _end(notice, Notice.State.FAILED, failure=why[:200], failed_for_good=for_good)
        if notice.step is not None:
            call_out_timers.escalate_now(notice.step, now=now)
        receiver = notice.person or notice.contact
        job = None if notice.visit is None else notice.visit.job
        Alarm.objects.create(
            area_id=notice.area_id,
            kind="not_told",
            text=f"{_name(receiver, job)} could not be told: {why[:200]} Call them, and correct the number."[:300],
            job=job,
            raised_at=now,
        )
    return ended


def _name(receiver: Person | Contact | None, job: Job | None) -> str:
    if isinstance(receiver, Person):
        return receiver.name
    who = "Somebody" if receiver is None else (receiver.name or receiver.role).capitalize()
    return who if job is None else f"{who} of {job.number}"


__all__ = ["SEND", "register", "send_notice", "way_for", "write"]
