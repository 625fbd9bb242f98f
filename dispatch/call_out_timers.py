"""The timed work of a call-out by its names: what waits, what is brought forward, what is canceled when it is over."""

from datetime import datetime, timedelta
from uuid import UUID, uuid5

from django.conf import settings

from dispatch.models import CallOut, CallOutStep
from jobs import due_work

ESCALATE = "dispatch.escalate_call_out"
TRY_AGAIN = "dispatch.page_again"
TELL = "dispatch.tell_who_waits"
NAMESPACE = UUID("6f0b6a0e-55a1-4d5e-9a56-7d1f7c1f0a11")
MANAGERS, CUSTOMER = "managers", "customer"


def key_of(name: str) -> UUID:
    """The key of one thing that a call-out does once, however often its work is done again."""
    return uuid5(NAMESPACE, name)


def timers_of_step(step: CallOutStep, *, now: datetime) -> None:
    """Once more the same person, then the next one. Call inside the transaction that asks."""
    arguments = {"call_out_id": step.call_out_id, "number": step.number}
    again_at = step.asked_at + timedelta(minutes=settings.SECOND_TRY_MINUTES)
    if step.asked_at < again_at < step.answer_by:
        due_work.enqueue(
            kind=TRY_AGAIN,
            arguments=arguments,
            due_at=again_at,
            now=now,
            coalesce=f"{TRY_AGAIN}:{step.call_out_id}",
        )
    due_work.enqueue(
        kind=ESCALATE,
        arguments=arguments,
        due_at=step.answer_by,
        now=now,
        coalesce=f"{ESCALATE}:{step.call_out_id}",
    )


def timers_of_call_out(call_out: CallOut, *, now: datetime) -> None:
    """When nobody has said yes for so long, the managers are told, then the customer."""
    minutes = {MANAGERS: settings.MANAGER_TOLD_MINUTES, CUSTOMER: settings.CUSTOMER_TOLD_MINUTES}
    for who, after in minutes.items():
        due_work.enqueue(
            kind=TELL,
            arguments={"call_out_id": call_out.pk, "who": who},
            due_at=call_out.started_at + timedelta(minutes=after),
            now=now,
            coalesce=f"{TELL}:{call_out.pk}:{who}",
        )


def escalate_now(step: CallOutStep, *, now: datetime) -> None:
    """
    The page cannot reach anybody, so the next person is asked without waiting for an answer.

    Not when somebody was asked after them already: that step's time runs on. Call inside a transaction.
    """
    call_out = CallOut.objects.select_for_update().get(pk=step.call_out_id)
    newest = call_out.steps.order_by("-number").first()
    if call_out.state != CallOut.State.ASKING or newest is None or newest.pk != step.pk or newest.answer:
        return
    due_work.enqueue(
        kind=ESCALATE,
        arguments={"call_out_id": step.call_out_id, "number": step.number},
        due_at=now,
        now=now,
        coalesce=f"{ESCALATE}:{step.call_out_id}",
    )


def stop_step(call_out_id: int, *, now: datetime) -> None:
    """The step has its answer."""
    for kind in (ESCALATE, TRY_AGAIN):
        due_work.cancel(coalesce=f"{kind}:{call_out_id}", now=now)


def stop_all(call_out_id: int, *, now: datetime) -> None:
    """Somebody goes, or nobody needs to: nothing of it is due any more."""
    stop_step(call_out_id, now=now)
    for who in (MANAGERS, CUSTOMER):
        due_work.cancel(coalesce=f"{TELL}:{call_out_id}:{who}", now=now)
