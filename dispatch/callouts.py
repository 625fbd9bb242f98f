"""
The call-out: a crew is asked to go, and when nobody answers in time the next person is asked, without being watched.

Each step is a row with the time by which an answer is wanted, and due work that moves on at that time. Answering
cancels that work in the same transaction; the handler looks again, so a late timer does nothing.
"""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID

from django.conf import settings
from django.contrib.auth.models import User

from dispatch import answer_tokens, call_out_timers, handover, notify
from dispatch.call_out_timers import ESCALATE, key_of
from dispatch.models import CallOut, CallOutOrder, CallOutStep, Crew, Notice, Person
from equipment.models import Alarm
from jobs import due_work, journal
from jobs.access import CREW_LEAD, MANAGER, roles_of
from jobs.models import Visit
from jobs.people import system_user
from jobs.refusals import NotThere, Refusal, Unusable
from jobs.use_case import use_case

# A runner that dies while it asks the next person must not keep a caller waiting; asking is done in well under this.
ESCALATION_LEASE = timedelta(seconds=30)
Answer = CallOutStep.Answer


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
    call_out_timers.timers_of_call_out(call_out, now=now)
    journal.note(
        kind="call_out_started", actor=actor, now=now, job=visit.job, data={"visit": visit.pk, "crew": crew.pk}
    )
    return call_out


@use_case("answer_call_out", private=("reason",))
def answer_call_out(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    call_out_id: int,
    answer: str,
    person_id: int | None = None,
    reason: str = "",
) -> Answered:
    """
    Take an answer: `leaving` (awake, rested and leaving now) or `cannot`, with its reason; a no asks the next at once.

    The desk may answer for somebody it has on the phone by naming the person.

    :raises Unusable: if the answer is neither.
    :raises NobodyAsks: if the call-out has ended.
    :raises NotAsked: if a lead answers a call-out in which they were not asked.
    """
    call_out = locked(call_out_id)
    steps = list(call_out.steps.select_related("person__user").order_by("-number"))
    step = next((step for step in steps if _speaks_for(actor, step.person, person_id)), None)
    if step is None:
        raise NotAsked("You were not asked for this call. The desk can answer in your name.")
    return take_answer(call_out, step, answer=answer, reason=reason, actor=actor, now=now)


def locked(call_out_id: int) -> CallOut:
    """
    The call-out, kept from other answers and from its timers until the transaction ends.

    :raises NotThere: if there is none.
    :raises NobodyAsks: if it has ended.
    """
    rows = CallOut.objects.select_for_update(of=("self",)).select_related("crew", "visit__job", "area")
    call_out = rows.filter(pk=call_out_id).first()
    if call_out is None:
        raise NotThere("There is no such call-out.")
    if call_out.state != CallOut.State.ASKING:
        raise NobodyAsks(f"This call-out has ended: {call_out.get_state_display()}.", state=call_out.state)
    return call_out


def take_answer(
    call_out: CallOut, step: CallOutStep, *, answer: str, reason: str, actor: User, now: datetime
) -> Answered:
    """
    Write one step's answer and do what follows from it. Call with the call-out locked, inside a transaction.

    :raises Unusable: if the answer is neither yes nor no.
    """
    if answer not in (Answer.LEAVING, Answer.CANNOT):
        raise Unusable("Answer that you are leaving now, or that you cannot go.", where="answer")
    newest = call_out.steps.order_by("-number").values_list("number", flat=True).first()
    step.answer, step.answered_at, step.reason = answer, now, reason.strip()[:120]
    step.save(update_fields=["answer", "answered_at", "reason"])
    if answer == Answer.LEAVING:
        _accept(call_out, step.person, actor, now)
    elif step.number == newest:
        call_out_timers.stop_step(call_out.pk, now=now)
        _next(call_out, actor, now)
    return Answered(call_out.pk, call_out.state, call_out.crew_id)


@use_case("escalate_call_out")
def escalate_call_out(*, key: UUID, actor: User, now: datetime, call_out_id: int, number: int) -> Answered:
    """The step's time is over, or its page reached nobody: ask the next person, unless an answer came meanwhile."""
    rows = CallOut.objects.select_for_update(of=("self",)).select_related("crew", "visit__job", "area")
    call_out = rows.get(pk=call_out_id)
    step = call_out.steps.order_by("-number").first()
    if call_out.state == CallOut.State.ASKING and step is not None and step.number == number and not step.answer:
        step.answer, step.answered_at = Answer.UNREACHED if _unreached(step) else Answer.SILENT, now
        step.save(update_fields=["answer", "answered_at"])
        call_out_timers.stop_step(call_out.pk, now=now)
        _next(call_out, actor, now)
    return Answered(call_out.pk, call_out.state, call_out.crew_id)


def cancel(*, visit: Visit, now: datetime) -> None:
    """The visit needs nobody any more."""
    for call_out in CallOut.objects.filter(visit=visit, state=CallOut.State.ASKING):
        call_out.state, call_out.ended_at = CallOut.State.CANCELED, now
        call_out.save(update_fields=["state", "ended_at"])
        call_out_timers.stop_all(call_out.pk, now=now)


def register() -> None:
    """Let due work move call-outs on."""
    due_work.register(ESCALATE, _escalate, lease=ESCALATION_LEASE)


def _escalate(*, now: datetime, work_id: int, call_out_id: int, number: int) -> dict[str, Any]:
    key = key_of(f"{call_out_id}/{number}")
    ended = escalate_call_out(key=key, actor=system_user(), now=now, call_out_id=call_out_id, number=number)
    return {"state": ended.state}


def _unreached(step: CallOutStep) -> bool:
    states = set(step.notices.values_list("state", flat=True))
    return Notice.State.FAILED in states and Notice.State.SENT not in states


def _speaks_for(actor: User, person: Person, person_id: int | None) -> bool:
    if person_id is not None and roles_of(actor) - {CREW_LEAD}:
        return person.pk == person_id
    return person.user_id == actor.pk


def _ask(call_out: CallOut, person: Person, now: datetime) -> None:
    step = CallOutStep(
        call_out=call_out,
        number=call_out.steps.count() + 1,
        person=person,
        asked_at=now,
        answer_by=now + timedelta(minutes=settings.CALL_OUT_MINUTES),
    )
    step.token_hash = answer_tokens.hash_of(answer_tokens.token_of(step))
    step.save(force_insert=True)
    page(step, call_out=call_out, now=now)
    call_out_timers.timers_of_step(step, now=now)


def page(step: CallOutStep, *, call_out: CallOut, now: datetime, again: bool = False) -> None:
    """Write the step's page; `again` is the second try. Each is written once, however often this is done."""
    local, job = step.answer_by.astimezone(call_out.area.zone), call_out.visit.job
    notify.write(
        key=key_of(f"page {call_out.pk}/{step.number}" + ("/again" if again else "")),
        area_id=call_out.area_id,
        person=step.person,
        text=("Second try. " if again else "")
        + f"Emergency in {job.town}, {job.state} ({job.number}). Can you leave now, awake and rested? "
        f"Answer by {local:%-I:%M %p}.",
        now=now,
        visit=call_out.visit,
        step=step,
    )


def _accept(call_out: CallOut, person: Person, actor: User, now: datetime) -> None:
    call_out_timers.stop_all(call_out.pk, now=now)
    crew = handover.crew_of(person, asked=call_out.crew, now=now)
    crew.save(update_fields=["lead"])
    if crew.pk != call_out.crew_id:
        handover.give_visit(visit=call_out.visit, crew=crew, actor=actor, now=now)
        call_out.crew = crew
    call_out.state, call_out.ended_at, call_out.accepted_by = CallOut.State.ACCEPTED, now, person
    call_out.save(update_fields=["state", "ended_at", "accepted_by", "crew"])
    _stand_down(call_out, person, now)
    journal.note(
        kind="call_out_accepted",
        actor=actor,
        now=now,
        job=call_out.visit.job,
        data={"visit": call_out.visit_id, "crew": crew.pk, "person": person.pk},
    )


def _stand_down(call_out: CallOut, goes: Person, now: datetime) -> None:
    """Who was paged and said nothing learns that somebody else goes, so that two crews never meet at one door."""
    paged = call_out.steps.filter(notices__state=Notice.State.SENT, answer__in=[Answer.NONE, Answer.SILENT])
    for step in paged.exclude(person=goes).select_related("person").distinct():
        notify.write(
            key=key_of(f"stand down {call_out.pk}/{step.number}"),
            area_id=call_out.area_id,
            person=step.person,
            text=f"No longer needed: {goes.name} goes to {call_out.visit.job.number}. Thank you.",
            now=now,
            visit=call_out.visit,
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
    tell_managers(
        call_out,
        key=f"exhausted {call_out.pk}",
        text=f"Nobody answered the call-out for {job.number} in {job.town}, {job.state}.",
        now=now,
    )
    journal.note(kind="call_out_exhausted", actor=actor, now=now, job=job, data={"visit": call_out.visit_id})


def tell_managers(call_out: CallOut, *, key: str, text: str, now: datetime) -> None:
    """Every manager of the area gets the message once."""
    people = Person.objects.filter(area_id=call_out.area_id, active=True, user__memberships__role=MANAGER)
    for manager in people.distinct():
        notify.write(
            key=key_of(f"{key}/{manager.pk}"),
            area_id=call_out.area_id,
            person=manager,
            text=text,
            now=now,
            visit=call_out.visit,
        )


def night_of(call_out: CallOut, now: datetime) -> date:
    """The day on which the running night began: until noon it is still last night's order."""
    local = now.astimezone(call_out.area.zone)
    return (local - timedelta(hours=12)).date()


__all__ = [
    "Answered",
    "NobodyAsks",
    "NotAsked",
    "answer_call_out",
    "cancel",
    "escalate_call_out",
    "locked",
    "page",
    "register",
    "start",
    "take_answer",
    "tell_managers",
]
