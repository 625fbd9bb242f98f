"""
The call-out: a crew is asked to go, and when nobody answers in time the next person is asked, without being watched.

Each step is a row with the time by which an answer is wanted, and due work that moves on at that time. Answering
cancels that work in the same transaction; the handler looks again, so a late timer does nothing.
"""

import hashlib
import secrets
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID, uuid5

from django.conf import settings
from django.contrib.auth.models import User

from dispatch import handover, notify
from dispatch.models import CallOut, CallOutOrder, CallOutStep, Crew, Person
from equipment.models import Alarm
from jobs import due_work, journal
from jobs.access import CREW_LEAD, MANAGER, roles_of
from jobs.models import Visit
from jobs.people import system_user
from jobs.refusals import Refusal, Unusable
from jobs.use_case import use_case

ESCALATE = "dispatch.escalate_call_out"
# A runner that dies while it asks the next person must not keep a caller waiting; asking is done in well under this.
ESCALATION_LEASE = timedelta(seconds=30)
NAMESPACE = UUID("6f0b6a0e-55a1-4d5e-9a56-7d1f7c1f0a11")


class NobodyAsks(Refusal):
    """The call-out has ended, so there is nothing to answer."""

    code = "call_out_ended"


class NotAsked(Refusal):
    """Somebody answers who was not asked."""

    code = "not_asked"
    status = 403


@dataclass(frozen=True)
class Answered:
    """What became of the call-out by an answer."""

    call_out_id: int
    state: str
    crew_id: int


def start(*, key: UUID, actor: User, now: datetime, crew: Crew, visit: Visit) -> CallOut:
    """Ask the crew's lead. Part of `send`: call inside its transaction."""
    call_out = CallOut.objects.create(area_id=crew.area_id, visit=visit, crew=crew, started_at=now)
    _ask(call_out, crew.lead, now)
    journal.note(
        kind="call_out_started", actor=actor, now=now, job=visit.job, data={"visit": visit.pk, "crew": crew.pk}
    )
    return call_out


@use_case("answer_call_out")
def answer_call_out(
    *, key: UUID, actor: User, now: datetime, call_out_id: int, answer: str, person_id: int | None = None
) -> Answered:
    """
    Take an answer: `leaving` (awake, rested and leaving now) or `cannot`.

    The desk may answer for somebody it has on the phone by naming the person.

    :raises Unusable: if the answer is neither.
    :raises NobodyAsks: if the call-out has ended.
    :raises NotAsked: if a lead answers a call-out in which they were not asked.
    """
    if answer not in (CallOutStep.Answer.LEAVING, CallOutStep.Answer.CANNOT):
        raise Unusable("Answer that you are leaving now, or that you cannot go.", where="answer")
    call_out = CallOut.objects.select_for_update().select_related("crew", "visit__job").get(pk=call_out_id)
    if call_out.state != CallOut.State.ASKING:
        raise NobodyAsks(f"This call-out has ended: {call_out.get_state_display()}.", state=call_out.state)
    steps = list(call_out.steps.select_related("person__user").order_by("-number"))
    step = next((step for step in steps if _speaks_for(actor, step.person, person_id)), None)
    if step is None:
        raise NotAsked("You were not asked for this call. The desk can answer in your name.")
    step.answer, step.answered_at = answer, now
    step.save(update_fields=["answer", "answered_at"])
    if answer == CallOutStep.Answer.LEAVING:
        _accept(call_out, step.person, actor, now)
    elif step == steps[0]:
        due_work.cancel(coalesce=_timer(call_out.pk), now=now)
        _next(call_out, actor, now)
    return Answered(call_out.pk, call_out.state, call_out.crew_id)


@use_case("escalate_call_out")
def escalate_call_out(*, key: UUID, actor: User, now: datetime, call_out_id: int, number: int) -> Answered:
    """The step's time is over: mark it silent and ask the next person, unless an answer came meanwhile."""
    call_out = CallOut.objects.select_for_update().select_related("crew", "visit__job").get(pk=call_out_id)
    step = call_out.steps.order_by("-number").first()
    if call_out.state == CallOut.State.ASKING and step is not None and step.number == number and not step.answer:
        step.answer, step.answered_at = CallOutStep.Answer.SILENT, now
        step.save(update_fields=["answer", "answered_at"])
        _next(call_out, actor, now)
    return Answered(call_out.pk, call_out.state, call_out.crew_id)


def cancel(*, visit: Visit, now: datetime) -> None:
    """The visit needs nobody any more."""
    for call_out in CallOut.objects.filter(visit=visit, state=CallOut.State.ASKING):
        call_out.state, call_out.ended_at = CallOut.State.CANCELED, now
        call_out.save(update_fields=["state", "ended_at"])
        due_work.cancel(coalesce=_timer(call_out.pk), now=now)


def register() -> None:
    """Let due work move call-outs on."""
    due_work.register(ESCALATE, _escalate, lease=ESCALATION_LEASE)


def _escalate(*, now: datetime, work_id: int, call_out_id: int, number: int) -> dict[str, Any]:
    key = uuid5(NAMESPACE, f"{call_out_id}/{number}")
    ended = escalate_call_out(key=key, actor=system_user(), now=now, call_out_id=call_out_id, number=number)
    return {"state": ended.state}


def _timer(call_out_id: int) -> str:
    return f"{ESCALATE}:{call_out_id}"


def _speaks_for(actor: User, person: Person, person_id: int | None) -> bool:
    if person_id is not None and roles_of(actor) - {CREW_LEAD}:
        return person.pk == person_id
    return person.user_id == actor.pk


def _ask(call_out: CallOut, person: Person, now: datetime) -> None:
    number = call_out.steps.count() + 1
    answer_by = now + timedelta(minutes=settings.CALL_OUT_MINUTES)
    token = secrets.token_urlsafe(24)
    CallOutStep.objects.create(
        call_out=call_out,
        number=number,
        person=person,
        asked_at=now,
        answer_by=answer_by,
        token_hash=hashlib.sha256(token.encode()).hexdigest(),
    )
    local = answer_by.astimezone(call_out.area.zone)
    job = call_out.visit.job
    text = (
        f"Emergency in {job.town}, {job.state} ({job.number}). Can you leave now, awake and rested? "
        f"Answer by {local:%-I:%M %p}."
    )
    notify.write(
        key=uuid5(NAMESPACE, f"page {call_out.pk}/{number}"),
        area_id=call_out.area_id,
        person=person,
        text=text,
        now=now,
        visit=call_out.visit,
    )
    due_work.enqueue(
        kind=ESCALATE,
        arguments={"call_out_id": call_out.pk, "number": number},
        due_at=answer_by,
        now=now,
        coalesce=_timer(call_out.pk),
    )


def _accept(call_out: CallOut, person: Person, actor: User, now: datetime) -> None:
    due_work.cancel(coalesce=_timer(call_out.pk), now=now)
    crew = handover.crew_of(person, asked=call_out.crew, now=now)
    crew.save(update_fields=["lead"])
    if crew.pk != call_out.crew_id:
        handover.give_visit(visit=call_out.visit, crew=crew, actor=actor, now=now)
        call_out.crew = crew
    call_out.state, call_out.ended_at, call_out.accepted_by = CallOut.State.ACCEPTED, now, person
    call_out.save(update_fields=["state", "ended_at", "accepted_by", "crew"])
    journal.note(
        kind="call_out_accepted",
        actor=actor,
        now=now,
        job=call_out.visit.job,
        data={"visit": call_out.visit_id, "crew": crew.pk, "person": person.pk},
    )


def _next(call_out: CallOut, actor: User, now: datetime) -> None:
    """Ask the next person on tonight's order who was not asked yet; after the last, tell the managers."""
    asked = set(call_out.steps.values_list("person_id", flat=True))
    order = CallOutOrder.objects.filter(area_id=call_out.area_id, night_of=night_of(call_out, now), person__active=True)
    for row in order.exclude(person_id__in=asked).select_related("person").order_by("position"):
        if handover.may_go(row.person, call_out=call_out, now=now):
            _ask(call_out, row.person, now)
            return
    call_out.state, call_out.ended_at = CallOut.State.EXHAUSTED, now
    call_out.save(update_fields=["state", "ended_at"])
    job = call_out.visit.job
    Alarm.objects.create(
        area_id=call_out.area_id,
        kind="nobody_answers",
        text=f"Nobody on tonight's call-out order answered for {job.number} in {job.town}. Call them yourself.",
        job=job,
        raised_at=now,
    )
    managers = Person.objects.filter(area_id=call_out.area_id, active=True, user__memberships__role=MANAGER).distinct()
    for manager in managers:
        notify.write(
            key=uuid5(NAMESPACE, f"exhausted {call_out.pk}/{manager.pk}"),
            area_id=call_out.area_id,
            person=manager,
            text=f"Nobody answered the call-out for {job.number} in {job.town}, {job.state}.",
            now=now,
            visit=call_out.visit,
        )
    journal.note(kind="call_out_exhausted", actor=actor, now=now, job=job, data={"visit": call_out.visit_id})


def night_of(call_out: CallOut, now: datetime) -> date:
    """The day on which the running night began: until noon it is still last night's order."""
    local = now.astimezone(call_out.area.zone)
    return (local - timedelta(hours=12)).date()


__all__ = ["Answered", "NobodyAsks", "NotAsked", "answer_call_out", "cancel", "escalate_call_out", "register", "start"]
