"""
Answering a page by the one-time link in it, without signing in.

The link can be used once, for a limited time, and only while nobody else was asked after its owner. Looking at it
changes nothing, since programs that check messages for harmful links open them too.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from django.conf import settings
from django.contrib.auth.models import User

from dispatch import answer_tokens, callouts
from dispatch.models import CallOut, CallOutStep
from jobs import journal
from jobs.refusals import NotThere, Refusal
from jobs.use_case import use_case

Answer = CallOutStep.Answer
OPEN, USED, OVERTAKEN, EXPIRED, OVER = "open", "used", "overtaken", "expired", "over"


class LinkUnknown(NotThere):
    """The link in a page is none of ours, or was copied in part."""

    code = "link_unknown"


class LinkUsed(Refusal):
    """The question was answered before: a link can be used once."""

    code = "link_used"


class LinkOvertaken(Refusal):
    """The next person was asked meanwhile."""

    code = "link_overtaken"


class LinkExpired(Refusal):
    """The link's time is over."""

    code = "link_expired"
    status = 410


@dataclass(frozen=True)
class AskedByLink:
    """What a link asks: of whom, for what, until when; whether an answer still counts (`state`, in words `said`)."""

    call_out_id: int
    number: int
    person: str
    job_number: str
    place: str
    what: str
    asked_at: datetime
    answer_by: datetime
    zone: ZoneInfo
    phone: str
    state: str
    said: str


def asked_by_link(*, token: str, now: datetime) -> AskedByLink:
    """
    What the link with this token asks; two queries, and nothing is written.

    :raises LinkUnknown: if it is none of ours.
    """
    rows = CallOutStep.objects.select_related("person", "call_out__visit__job", "call_out__area")
    step = rows.filter(token_hash=answer_tokens.hash_of(token)).first()
    if step is None:
        raise LinkUnknown("This link is not one of ours, or a part of it is missing. Open it from the message again.")
    call_out, job = step.call_out, step.call_out.visit.job
    state, said = _state(step, now)
    return AskedByLink(
        call_out_id=call_out.pk,
        number=step.number,
        person=step.person.name,
        job_number=job.number,
        # The street is the customer's: it is on the lead's own page, behind the sign-in.
        place=f"{job.town}, {job.state}",
        what=f"Water from: {job.water_source.replace('_', ' ')}" if job.water_source else "",
        asked_at=step.asked_at,
        answer_by=step.answer_by,
        zone=call_out.area.zone,
        phone=call_out.area.phone,
        state=state,
        said=said,
    )


@use_case("answer_by_link", private=("reason",))
def answer_by_link(
    *, key: UUID, actor: User, now: datetime, call_out_id: int, number: int, answer: str, reason: str = ""
) -> callouts.Answered:
    """
    Take the answer of whoever was asked at this step and holds its link: `leaving`, or `cannot` with a reason.

    :raises LinkUsed: if the step has an answer.
    :raises LinkOvertaken: if somebody was asked after them, or goes already.
    :raises LinkExpired: if the link's time is over.
    """
    try:
        call_out = callouts.locked(call_out_id)
    except callouts.NobodyAsks:
        call_out = None
    step = CallOutStep.objects.select_related("person__user", "call_out").get(call_out_id=call_out_id, number=number)
    state, said = _state(step, now)
    if state != OPEN or call_out is None:
        kinds: dict[str, type[Refusal]] = {USED: LinkUsed, EXPIRED: LinkExpired}
        raise kinds.get(state, LinkOvertaken)(said, state=state)
    answered = callouts.take_answer(call_out, step, answer=answer, reason=reason, actor=actor, now=now)
    data = {"visit": call_out.visit_id, "person": step.person_id, "answer": answer}
    journal.note(kind="answered_by_link", actor=actor, now=now, job=call_out.visit.job, data=data)
    return answered


def _state(step: CallOutStep, now: datetime) -> tuple[str, str]:
    call_out = step.call_out
    at = "" if step.answered_at is None else f"{step.answered_at.astimezone(call_out.area.zone):%-I:%M %p}"
    if step.answer in (Answer.LEAVING, Answer.CANNOT):
        return USED, f"This was answered at {at}: {step.get_answer_display()}. The link cannot be used again."
    if call_out.state == CallOut.State.ACCEPTED:
        return OVERTAKEN, "Somebody else is on the way. You do not need to go."
    if call_out.state == CallOut.State.CANCELED:
        return OVER, "Nobody needs to go any more."
    if call_out.state == CallOut.State.EXHAUSTED:
        return OVERTAKEN, "The time to answer is over, and the managers were told. If you can go, call the desk now."
    if call_out.steps.filter(number__gt=step.number).exists():
        return OVERTAKEN, f"The next person was asked at {at}. If you can go after all, call the desk now."
    if now >= step.asked_at + timedelta(minutes=settings.ANSWER_LINK_MINUTES):
        return EXPIRED, "This link is too old to be used. Call the desk."
    return OPEN, ""
