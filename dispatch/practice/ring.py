"""Ringing an invented call, and hearing its caller line by line; both are kept in the journal, nowhere else."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.conf import settings
from django.contrib.auth.models import User

from dispatch.practice.scripts import script_of, scripts
from jobs import intake, journal
from jobs.models import Call, JournalEntry
from jobs.refusals import NotThere, Refusal
from jobs.use_case import key_for, use_case

RUNG, HEARD = "practice_rung", "practice_heard"


class NoPractice(Refusal):
    """Invented calls ring in a practice night only, never among real ones."""

    code = "no_practice"


@dataclass(frozen=True)
class Rung:
    """The call that rings now."""

    call_id: int
    script: str


@dataclass(frozen=True)
class Heard:
    """What the caller has said so far, and how many lines they still have."""

    call_id: int
    lines: tuple[str, ...]
    left: int


@use_case("ring_practice_call")
def ring_practice_call(*, key: UUID, actor: User, now: datetime, area_id: int) -> Rung:
    """
    Let the next invented call ring: the one that the actor has heard least often, the easiest first.

    :raises NoPractice: outside a practice night.
    """
    require_practice()
    heard = [row.data["script"] for row in JournalEntry.objects.filter(kind=RUNG, actor=actor)]
    script = min(scripts(), key=lambda one: heard.count(one.code))
    taken = intake.take_call(key=key_for(key, "call"), actor=actor, now=now, area_id=area_id)
    data = {"call": taken.call_id, "script": script.code}
    journal.note(kind=RUNG, actor=actor, now=now, area_id=area_id, data=data)
    return Rung(taken.call_id, script.code)


@use_case("hear_practice_line")
def hear_practice_line(*, key: UUID, actor: User, now: datetime, call_id: int) -> Heard:
    """
    Let the caller of an invented call say the next line; after the last one nothing more is said.

    :raises NoPractice: outside a practice night.
    :raises NotThere: if the call is no invented one.
    """
    require_practice()
    heard = heard_of(call_id)
    if not heard.left:
        return heard
    area_id = Call.objects.values_list("area_id", flat=True).get(pk=call_id)
    data = {"call": call_id, "line": len(heard.lines) + 1}
    journal.note(kind=HEARD, actor=actor, now=now, area_id=area_id, data=data)
    return heard_of(call_id)


def heard_of(call_id: int) -> Heard:
    """
    What the caller has said so far; the first line is heard with the ring (2 queries).

    :raises NotThere: if the call is no invented one.
    """
    rung = rung_of(call_id)
    said = 1 + JournalEntry.objects.filter(kind=HEARD, data__call=call_id).count()
    lines = script_of(rung.data["script"]).lines
    return Heard(call_id, lines[:said], max(0, len(lines) - said))


def rung_of(call_id: int) -> JournalEntry:
    """
    The entry of the ring.

    :raises NotThere: if the call is no invented one.
    """
    rung = JournalEntry.objects.filter(kind=RUNG, data__call=call_id).first()
    if rung is None:
        raise NotThere(f"Call {call_id} is no practice call. Let the next one ring.", where="call_id")
    return rung


def require_practice() -> None:
    """
    :raises NoPractice: outside a practice night.
    """
    if not settings.PRACTICE:
        raise NoPractice("This is no practice night. Start one with manage.py practice; it has a company of its own.")
