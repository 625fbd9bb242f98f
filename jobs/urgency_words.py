"""A manager's word on a call's urgency, kept beside the suggestion with a name and a reason."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.contrib.auth.models import User

from jobs import intake, journal
from jobs.calls.urgency import LEVELS, urgency_of
from jobs.models import UrgencyWord
from jobs.refusals import Refusal, Unusable
from jobs.use_case import use_case


class UrgencyNeedsReason(Refusal):
    """A manager's word against the suggested urgency says why."""

    code = "urgency_needs_reason"
    status = 422


@dataclass(frozen=True)
class UrgencySaid:
    """The manager's level with its aim, who said it, when and why; `suggestion` is what was suggested then."""

    level: str
    aim: str
    suggestion: str
    reason: str
    by: str
    at: datetime


@use_case("set_urgency")
def set_urgency(*, key: UUID, actor: User, now: datetime, call_id: int, level: str, reason: str) -> UrgencySaid:
    """
    Set the urgency of an open call; the suggestion goes on being made from the answers and stays in sight.

    :raises UrgencyNeedsReason: without a reason.
    :raises CallOver: if the call has ended.
    """
    call = intake.locked_call(call_id)
    if call.ended_at is not None:
        raise intake.CallOver("This call has ended; its urgency is settled.", call=call_id)
    if level not in LEVELS:
        raise Unusable(f"The urgency is one of: {', '.join(LEVELS)}.", where="level")
    if not reason.strip():
        raise UrgencyNeedsReason("Say in a few words why it is more or less urgent.", where="urgency_reason")
    suggested = urgency_of({**call.answers, **call.private_answers}, call.rooms)
    word = UrgencyWord.objects.create(
        call=call,
        suggestion="" if suggested is None else suggested.level,
        level=level,
        reason=reason.strip()[:200],
        said_by=actor,
        said_at=now,
    )
    journal.note(
        kind="urgency_set", actor=actor, now=now, area_id=call.area_id, data={"call": call.pk, "level": word.level}
    )
    return _said(word)


def urgency_said(call_id: int) -> UrgencySaid | None:
    """The newest word on a call's urgency, if a manager gave one (1 query)."""
    word = UrgencyWord.objects.filter(call_id=call_id).select_related("said_by").order_by("-said_at", "-pk").first()
    return None if word is None else _said(word)


def _said(word: UrgencyWord) -> UrgencySaid:
    who = word.said_by.get_full_name() or word.said_by.get_username()
    return UrgencySaid(word.level, LEVELS[word.level], word.suggestion, word.reason, who, word.said_at)
