"""What happens while nobody has said yes: a second try, then the managers are told, then the customer."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.contrib.auth.models import User

from dispatch import callouts, notify
from dispatch.call_out_timers import CUSTOMER, TELL, TRY_AGAIN, key_of
from dispatch.callouts import ESCALATION_LEASE
from dispatch.models import CallOut
from equipment.models import Alarm
from jobs import due_work, journal
from jobs.models import Contact
from jobs.people import system_user
from jobs.use_case import use_case


@dataclass(frozen=True)
class Waited:
    """Whether anything was still to be done."""

    call_out_id: int
    done: bool


@use_case("page_again")
def page_again(*, key: UUID, actor: User, now: datetime, call_out_id: int, number: int) -> Waited:
    """Page the same person once more, unless the step is over."""
    call_out = _locked(call_out_id)
    step = call_out.steps.select_related("person").order_by("-number").first()
    if call_out.state != CallOut.State.ASKING or step is None or step.number != number or step.answer:
        return Waited(call_out_id, False)
    callouts.page(step, call_out=call_out, now=now, again=True)
    step.tried_again_at = now
    step.save(update_fields=["tried_again_at"])
    return Waited(call_out_id, True)


@use_case("tell_who_waits")
def tell_who_waits(*, key: UUID, actor: User, now: datetime, call_out_id: int, who: str) -> Waited:
    """Tell the managers, or the customer, that nobody has said yes so far; not when somebody has."""
    call_out = _locked(call_out_id)
    # When everybody was asked in vain the managers were told at once; the customer waits on.
    waits = {CallOut.State.ASKING} | ({CallOut.State.EXHAUSTED} if who == CUSTOMER else set())
    if call_out.state not in waits:
        return Waited(call_out_id, False)
    job, minutes = call_out.visit.job, round((now - call_out.started_at).total_seconds() / 60)
    if who == CUSTOMER:
        _tell_customer(call_out, now)
    else:
        text = f"No crew has said yes for {minutes} minutes: {job.number} in {job.town}, {job.state}."
        callouts.tell_managers(call_out, key=f"waits {call_out.pk}", text=text, now=now)
    journal.note(kind="call_out_waits", actor=actor, now=now, job=job, data={"visit": call_out.visit_id, "told": who})
    return Waited(call_out_id, True)


def register() -> None:
    """Let due work try again and tell."""
    due_work.register(TRY_AGAIN, _again, lease=ESCALATION_LEASE)
    due_work.register(TELL, _tell, lease=ESCALATION_LEASE)


def _again(*, now: datetime, work_id: int, call_out_id: int, number: int) -> dict[str, Any]:
    key = key_of(f"again {call_out_id}/{number}")
    done = page_again(key=key, actor=system_user(), now=now, call_out_id=call_out_id, number=number)
    return {"done": done.done}


def _tell(*, now: datetime, work_id: int, call_out_id: int, who: str) -> dict[str, Any]:
    key = key_of(f"tell {who} {call_out_id}")
    done = tell_who_waits(key=key, actor=system_user(), now=now, call_out_id=call_out_id, who=who)
    return {"done": done.done}


def _locked(call_out_id: int) -> CallOut:
    rows = CallOut.objects.select_for_update(of=("self",)).select_related("visit__job", "area")
    return rows.get(pk=call_out_id)


def _tell_customer(call_out: CallOut, now: datetime) -> None:
    job, area = call_out.visit.job, call_out.area
    contact = Contact.objects.filter(job=job).exclude(phone="").order_by("-lets_in", "pk").first()
    if contact is not None:
        notify.write(
            key=key_of(f"customer waits {call_out.pk}"),
            area_id=call_out.area_id,
            contact=contact,
            text="No crew is on the way to you yet. We are still calling people, and will call you with a time."
            + (f" Our number: {area.phone}." if area.phone else ""),
            now=now,
            visit=call_out.visit,
        )
    told = "were told so in a message" if contact is not None else "have not been told, for want of a number"
    Alarm.objects.create(
        area_id=call_out.area_id,
        kind="customer_waits",
        text=f"No crew has said yes to {job.number} in {job.town}. They {told}: call them with the truth and a time.",
        job=job,
        raised_at=now,
    )
