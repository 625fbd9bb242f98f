"""The demo calls whose crews are only now being sent: sent by the desk as any other call, most of them answered."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID, uuid5

from django.contrib.auth.models import User

from dispatch.callouts import answer_call_out
from dispatch.emergencies import send
from dispatch.models import CallOut, CallOutStep
from dispatch.offering import offers
from jobs.models import Call

THINKING = timedelta(minutes=5)
ANSWERING = timedelta(minutes=2)


@dataclass(frozen=True)
class NightSent:
    """Calls that a crew was sent to, and those for which no crew could go: they wait on the desk."""

    sent: tuple[int, ...]
    waiting: tuple[int, ...]


def send_crews(call_ids: Iterable[int], *, desk: User, key: UUID, now: datetime) -> NightSent:
    """
    Send the best crew to each call, oldest first. The newest call-out is left unanswered, for the desk to watch.
    """
    sent: list[int] = []
    waiting: list[int] = []
    calls = list(Call.objects.filter(pk__in=list(call_ids), ended_at=None).order_by("started_at"))
    for call in calls:
        at = min(call.started_at + THINKING, now)
        best = next(iter(offers(call_id=call.pk, now=at).offers), None)
        if best is None:
            waiting.append(call.pk)
            continue
        done = send(key=uuid5(key, f"send {call.pk}"), actor=desk, now=at, call_id=call.pk, crew_id=best.crew_id)
        if call != calls[-1]:
            _answer(done.call_out_id, desk, uuid5(key, f"answer {call.pk}"), min(at + ANSWERING, now))
        sent.append(call.pk)
    return NightSent(tuple(sent), tuple(waiting))


def _answer(call_out_id: int, desk: User, key: UUID, now: datetime) -> None:
    """The desk has the lead on the phone: awake, rested and leaving."""
    call_out = CallOut.objects.get(pk=call_out_id)
    step = call_out.steps.order_by("-number").first()
    if step is None:
        return
    answer_call_out(
        key=key,
        actor=desk,
        now=now,
        call_out_id=call_out_id,
        answer=CallOutStep.Answer.LEAVING,
        person_id=step.person_id,
    )
