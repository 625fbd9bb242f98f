"""What the call page shows: the questions in their order, the rooms, and beside them what follows from the answers."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from dispatch.desk.call_estimate import Estimate, estimate_of
from dispatch.desk.help_pages import GROUP_HELP
from dispatch.desk.known_jobs import KnownJob, known_jobs
from jobs import selectors
from jobs.calls import fields, rooms
from jobs.calls.fields import CallField
from jobs.calls.hazards import Hazard, to_say
from jobs.calls.urgency import Urgency, urgency_of
from jobs.facts import CallFacts
from jobs.phones import whole
from jobs.places import STATE_NAMES
from jobs.same_loss import SameLoss, same_loss
from jobs.urgency_words import UrgencySaid, urgency_said

GROUPS = {
    "first": "First of all",
    "caller": "The caller",
    "place": "Where",
    "water": "The water",
    "building": "The building",
    "people": "People and access",
    "payer": "Who pays",
    "power": "Power for machines",
}
ROOMS_AFTER = "water"
MAP_AFTER = "place"
# Long answers get a line of their own.
WIDE = {"hazards", "care", "access"}


@dataclass(frozen=True)
class Entry:
    """One field with what stands in it: text for an input, or the chosen words; and why it was refused."""

    name: str
    label: str
    hint: str
    kind: str
    text: str
    version: int
    words: tuple[tuple[str, str, bool], ...] = ()
    refusal: str = ""
    theirs: str | None = None
    wide: bool = False

    @property
    def html_id(self) -> str:
        return f"f-{self.name.replace(':', '-')}"


@dataclass(frozen=True)
class Group:
    """Questions that belong together; the map stands after one of them, the rooms after another."""

    name: str
    entries: tuple[Entry, ...]
    rooms_follow: bool
    map_follows: bool
    help: tuple[str, ...] = ()


@dataclass(frozen=True)
class RoomRow:
    """One room: its line of words, and its measures one by one."""

    room_id: str
    line: Entry
    cells: tuple[Entry, ...]
    removed: bool
    removed_version: int


@dataclass(frozen=True)
class PlaceLine:
    """The line that is always visible: where, in which county and state, what time it is there."""

    words: str
    county: str
    state: str
    clock: str
    zone: str
    source: str
    ask: str
    choices: tuple[tuple[str, str], ...]
    recording: str
    lat: float | None = None
    lon: float | None = None


@dataclass(frozen=True)
class Side:
    """What follows from the answers."""

    place: PlaceLine
    urgency: Urgency | None
    urgency_said: UrgencySaid | None
    say: tuple[Hazard, ...]
    missing: tuple[tuple[str, str], ...]
    known_jobs: tuple[KnownJob, ...]
    same_loss: tuple[SameLoss, ...]
    estimate: Estimate


@dataclass(frozen=True)
class Refused:
    """A field that could not be saved: what was typed, why not, and what another screen put there."""

    typed: str
    message: str
    theirs: str | None = None


@dataclass(frozen=True)
class CallPage:
    """The whole page."""

    facts: CallFacts
    groups: tuple[Group, ...]
    rooms: tuple[RoomRow, ...]
    blank_room: RoomRow
    side: Side


def call_page(facts: CallFacts, *, now: datetime, refused: Mapping[str, Refused] | None = None) -> CallPage:
    """The page of a call; `refused` holds what could not be saved, by field."""
    no = refused or {}
    groups = tuple(
        Group(
            name,
            tuple(_entry(field, facts, no.get(field.key)) for field in fields.FIELDS if field.group == group),
            group == ROOMS_AFTER,
            group == MAP_AFTER,
            GROUP_HELP.get(group, ()),
        )
        for group, name in GROUPS.items()
    )
    told = [*facts.rooms]
    new = [key.split(":")[1] for key in no if rooms.is_room_field(key)]
    told += [{"id": room_id} for room_id in dict.fromkeys(new) if all(room["id"] != room_id for room in told)]
    return CallPage(
        facts,
        groups,
        tuple(_room(room, facts, no) for room in told),
        _room({"id": "new"}, facts, {}),
        side(facts, now=now),
    )


def side(facts: CallFacts, *, now: datetime) -> Side:
    """What follows from the answers (at most 8 queries)."""
    number = facts.answers.get("callback_number", "")
    known = selectors.jobs_of_phone(number) if whole(number) else ()
    return Side(
        _place(facts, now),
        urgency_of(facts.answers, facts.rooms),
        urgency_said(facts.call_id),
        to_say(facts.answers.get("hazards")),
        tuple((field, _label(field)) for field in facts.missing),
        known_jobs(tuple(job for job in known if job.job_id != facts.job_id), now=now),
        _same_loss(facts, {job.job_id for job in known}),
        estimate_of(facts),
    )


def _same_loss(facts: CallFacts, known: set[int]) -> tuple[SameLoss, ...]:
    """Others who may be calling about the same loss, besides the jobs that the number itself names."""
    if facts.ended_at is not None:
        return ()
    found = same_loss(
        call_id=facts.call_id,
        area_id=facts.area.area_id,
        street=facts.answers.get("street", ""),
        unit=facts.answers.get("unit", ""),
        place=facts.place.place,
        started_at=facts.started_at,
    )
    return tuple(line for line in found if line.job_id not in known | {facts.job_id} or line.job_id is None)


def text_of(value: Any) -> str:
    """A kept value as somebody would type it."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, list):
        if value and isinstance(value[0], dict):
            return ", ".join(
                f"{row['breaker_a']:g}" + (f" ({row['reserved_a']:g})" if row["reserved_a"] else "") for row in value
            )
        return ", ".join(map(str, value))
    return str(value)


def cells_of(facts: CallFacts, room_id: str) -> dict[str, dict[str, Any]]:
    """Every cell of one room as text, with its version: what a screen puts in place after a save."""
    room = next((room for room in facts.rooms if room["id"] == room_id), {"id": room_id})
    names = [f"room:{room_id}:{cell}" for cell in (*rooms.CELLS, "line")]
    return {
        name: {"text": text_of(rooms.cell_value([room], name)), "version": facts.versions.get(name, 0)}
        for name in names
    }


def answers_of(facts: CallFacts) -> dict[str, dict[str, Any]]:
    """Every field as text with its version, for a screen that looks whether another one changed something."""
    plain = {
        field.key: {"text": text_of(facts.answers.get(field.key)), "version": facts.versions.get(field.key, 0)}
        for field in fields.FIELDS
    }
    for room in facts.rooms:
        plain |= cells_of(facts, room["id"])
    return plain


def _entry(field: CallField, facts: CallFacts, refused: Refused | None) -> Entry:
    value = facts.answers.get(field.key)
    chosen = {str(one) for one in value} if isinstance(value, list) else {str(value)}
    typed = text_of(value)
    if refused is not None:
        typed = refused.typed
        chosen = {part.strip() for part in typed.split(",")}
    return Entry(
        field.key,
        field.label,
        field.hint,
        field.kind,
        typed,
        facts.versions.get(field.key, 0),
        tuple((key, label, key in chosen) for key, label in field.words.items()),
        refused.message if refused else "",
        refused.theirs if refused else None,
        field.key in WIDE,
    )


def _room(room: Mapping[str, Any], facts: CallFacts, no: Mapping[str, Refused]) -> RoomRow:
    room_id = room["id"]

    def entry(cell: str, label: str, hint: str) -> Entry:
        name = f"room:{room_id}:{cell}"
        refused = no.get(name)
        typed = text_of(rooms.cell_value([dict(room)], name))
        return Entry(
            name,
            label,
            hint,
            "text",
            refused.typed if refused else typed,
            facts.versions.get(name, 0),
            refusal=refused.message if refused else "",
            theirs=refused.theirs if refused else None,
        )

    return RoomRow(
        room_id,
        entry("line", "Room, size, what is wet", ""),
        tuple(entry(cell, label, "") for cell, (label, _) in rooms.CELLS.items() if cell != "removed"),
        bool(room.get("removed")),
        facts.versions.get(f"room:{room_id}:removed", 0),
    )


def _place(facts: CallFacts, now: datetime) -> PlaceLine:
    found, place = facts.place, facts.place.place
    choices = tuple((option.state, f"{option.town}, {option.state_name}") for option in found.choices)
    if place is None:
        return PlaceLine("Place not known yet", "", "", "", "", "", found.ask, choices, "")
    street = facts.answers.get("street", "")
    words = ", ".join(part for part in (street, place.town, f"{place.state} {place.zip_code}".strip()) if part)
    there = now.astimezone(ZoneInfo(place.time_zone))
    return PlaceLine(
        words,
        place.county,
        STATE_NAMES.get(place.state, place.state),
        there.strftime("%I:%M %p").lstrip("0"),
        there.strftime("%Z"),
        place.source,
        found.ask,
        choices,
        _recording(place.state, there),
        place.lat,
        place.lon,
    )


def _recording(state: str, on: datetime) -> str:
    """Whether the call may be recorded, by the state's rule as the company keeps it."""
    rule = selectors.state_rule(state=state, topic="recording_consent", on=on.date())
    if rule is None:
        return ""
    words = {"one_party": "may be recorded", "all_parties": "ask before recording"}.get(
        str(rule.value), str(rule.value)
    )
    return f"{words} ({rule.note or rule.source})"


def _label(field: str) -> str:
    return "Rooms with their sizes" if field == "rooms" else fields.BY_KEY[field].label.rstrip("?")
