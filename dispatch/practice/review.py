"""The review of an invented call: what was asked and when, what was missed, how it ended, what a good taker asks."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from dispatch.practice.ring import RUNG, rung_of
from dispatch.practice.scripts import Expected, Script, script_of
from jobs import selectors
from jobs.calls.fields import BY_KEY
from jobs.models import Call, JournalEntry, UseCaseCall
from jobs.phones import standard, whole

PLACE = ("zip_code", "town", "state")


@dataclass(frozen=True)
class Asked:
    """One thing that a good taker asks: what was noted, how long after the ring, what the caller would have said."""

    question: str
    noted: str
    after: timedelta | None
    right: bool
    would_have_said: str
    why: str


@dataclass(frozen=True)
class Step:
    """One step of the call, and how long after the ring it was done; None: not yet."""

    what: str
    after: timedelta | None


@dataclass(frozen=True)
class Review:
    """The whole review; `asked` stands in the order in which a good taker asks."""

    call_id: int
    title: str
    steps: tuple[Step, ...]
    asked: tuple[Asked, ...]
    missed: int
    rooms_noted: int
    rooms_told: int
    ended_as: str
    ended_right: bool
    good_end: str
    ends_why: str


def review(call_id: int) -> Review:
    """
    The review of one invented call, finished or not (5 queries).

    :raises NotThere: if the call is no invented one.
    """
    rung = rung_of(call_id)
    script: Script = script_of(rung.data["script"])
    facts = selectors.call_facts(call_id)
    done = UseCaseCall.objects.filter(outcome=UseCaseCall.Outcome.DONE, arguments__call_id=call_id).order_by(
        "now", "pk"
    )
    first: dict[str, datetime] = {}
    for row in done.filter(verb="answer_call"):
        first.setdefault(row.arguments.get("field", ""), row.now)
    asked = tuple(_asked(ask, facts.answers, first, rung.happened_at) for ask in script.asks)
    rooms = [room for room in facts.rooms if not room.get("removed")]
    room_times = [at for field, at in first.items() if field.startswith("room:")]
    steps = (
        ("First answer saved", min(first.values(), default=None)),
        ("Number", first.get("callback_number")),
        ("Danger asked", first.get("hazards")),
        ("Place", min((first[key] for key in PLACE if key in first), default=None)),
        ("Where the water is from", first.get("water_source")),
        ("First room", min(room_times, default=None)),
        ("Call ended", facts.ended_at),
    )
    words = dict(Call.EndedAs.choices)
    return Review(
        call_id,
        script.title,
        tuple(Step(what, None if at is None else at - rung.happened_at) for what, at in steps),
        asked,
        sum(not one.right for one in asked),
        len(rooms),
        script.rooms,
        words.get(facts.ended_as, "not ended yet"),
        facts.ended_as == script.ends_as,
        words[script.ends_as],
        script.ends_why,
    )


@dataclass(frozen=True)
class PracticeLine:
    """One invented call that was taken."""

    call_id: int
    title: str
    at: datetime
    by: str


def practice_calls(area_id: int) -> tuple[PracticeLine, ...]:
    """The invented calls that rang, the newest first (1 query)."""
    rows = (
        JournalEntry.objects.filter(kind=RUNG, area_id=area_id).select_related("actor").order_by("-happened_at", "-pk")
    )
    return tuple(
        PracticeLine(
            row.data["call"],
            script_of(row.data["script"]).title,
            row.happened_at,
            row.actor.get_full_name() or row.actor.get_username(),
        )
        for row in rows[:50]
    )


def _asked(ask: Expected, answers: dict[str, Any], first: dict[str, datetime], rung_at: datetime) -> Asked:
    field, noted = BY_KEY[ask.field], answers.get(ask.field)
    at = first.get(ask.field)
    return Asked(
        field.label.rstrip("?"),
        _words(ask.field, noted),
        None if at is None else at - rung_at,
        noted not in (None, "", []) and (ask.value is None or _text(ask.value) in _texts(noted)),
        "" if ask.value is None else _words(ask.field, ask.value),
        ask.why,
    )


def _texts(noted: Any) -> set[str]:
    return {_text(one) for one in noted} if isinstance(noted, list) else {_text(noted)}


def _text(value: Any) -> str:
    """As it is compared: a number the same with and without its dashes."""
    return standard(str(value)) if whole(str(value)) else str(value)


def _words(field: str, value: Any) -> str:
    if value in (None, "", []):
        return ""
    told = BY_KEY[field].words
    return ", ".join(told.get(text, text) for text in sorted(_texts(value)))
