"""What a call says by now: reading and keeping one field, what is still missing, where it is."""

from typing import Any

from jobs.calls import fields, rooms
from jobs.models import Call
from jobs.phones import whole
from jobs.places import Found, find
from jobs.refusals import Unusable


def read(field: str, raw: Any) -> Any:
    """
    What was typed into a field, as it would be kept; None for nothing.

    :raises Unusable: if it cannot be meant; `where` names the field.
    :raises NoSuchField: if the call has no such field.
    """
    if raw is None:
        return [] if field == "rooms" else None
    try:
        if field == "rooms":
            return rooms.read_all(raw)
        if rooms.is_room_field(field):
            return rooms.read_cell(field, raw)
        return fields.field_named(field).read(raw)
    except Unusable as error:
        raise Unusable(error.message, where=error.where or field) from error


def value_of(call: Call, field: str) -> Any:
    """What stands in a field; None for nothing."""
    if field == "rooms":
        return call.rooms
    if rooms.is_room_field(field):
        return rooms.cell_value(call.rooms, field)
    entry = fields.field_named(field)
    return (call.private_answers if entry.private else call.answers).get(field)


def keep(call: Call, field: str, value: Any) -> None:
    """Set a field on the row and count the save; the caller writes the row."""
    if field == "rooms":
        call.rooms = value
    elif rooms.is_room_field(field):
        before, call.rooms = call.rooms, rooms.with_cell(call.rooms, field, value)
        # The line and its cells say the same, and the list holds them all: who writes one must have seen the others.
        for other in {"rooms", *rooms.changed_cells(before, call.rooms, field)} - {field}:
            _count(call, other)
    else:
        kept = call.private_answers if fields.field_named(field).private else call.answers
        kept.pop(field, None)
        if value is not None:
            kept[field] = value
    _count(call, field)


def is_private(field: str) -> bool:
    """Whether what stands in the field is erased on schedule."""
    return field in fields.BY_KEY and fields.BY_KEY[field].private


def label_of(field: str) -> str:
    """What the screen calls a field."""
    if field == "rooms":
        return "The list of rooms"
    if rooms.is_room_field(field):
        return rooms.CELLS.get(rooms.parts_of(field)[1], ("The room", None))[0]
    return fields.field_named(field).label


def place_of(call: Call) -> Found:
    """Where the answers say that the loss is."""
    point = call.answers.get("point")
    return find(
        zip_code=call.answers.get("zip_code", ""),
        town=call.answers.get("town", ""),
        state=call.answers.get("state", ""),
        point=(point[0], point[1]) if point else None,
    )


def missing_to_send(call: Call) -> tuple[str, ...]:
    """The fields without which no crew is sent, in the order in which they are asked; empty when there is enough."""
    has = {**call.answers, **call.private_answers}
    needed = (
        ("callback_number", whole(has.get("callback_number", ""))),
        ("street", "street" in has or "point" in has),
        ("state", place_of(call).place is not None),
        ("running", "running" in has),
        ("category", "category" in has or "water_source" in has),
        ("power", "power" in has),
        ("rooms", any(_has_size(room) for room in call.rooms)),
        ("lets_in", "lets_in" in has),
        ("can_sign", "can_sign" in has),
    )
    return tuple(field for field, there in needed if not there)


def _has_size(room: dict[str, Any]) -> bool:
    sized = {"length_ft", "width_ft"} <= room.keys() or "wet_floor_sqft" in room
    return sized and not room.get("removed")


def _count(call: Call, field: str) -> None:
    call.versions[field] = call.versions.get(field, 0) + 1
