"""
The wet rooms as they are told on the phone: cells that are saved one by one, or one line of words.

A room is a dictionary with an `id` of the client's making, its name, and ports.md's measures.
"""

import re
from typing import Any

from jobs.calls import parsing, room_lines
from jobs.calls.parsing import Reader
from jobs.refusals import Unusable

_edge, _area = parsing.number(0, 1000, "feet"), parsing.number(0, 1_000_000, "square feet")
CELLS: dict[str, tuple[str, Reader]] = {
    "name": ("Room", parsing.text(60)),
    "chamber": ("Floor of the house", parsing.text(60)),
    "length_ft": ("Length ft", _edge),
    "width_ft": ("Width ft", _edge),
    "height_ft": ("Height ft", parsing.number(0, 100, "feet")),
    "floor": ("Floor is", parsing.choice(room_lines.FLOORS)),
    "wet_floor_sqft": ("Wet floor sq ft", _area),
    "wet_lower_wall_sqft": ("Wet wall below 2 ft, sq ft", _area),
    "wet_upper_wall_sqft": ("Wet wall above 2 ft, sq ft", _area),
    "wet_ceiling_sqft": ("Wet ceiling sq ft", _area),
    "wall_cavity_ft": ("Wet wall cavities ft", parsing.number(0, 10_000, "feet")),
    "insulation_wet": ("Insulation wet", parsing.flag),
    "wet_wood_floor_sqft": ("Wet wood floor sq ft", _area),
    "lower_wall_only_ft": ("Only along the walls, ft", parsing.number(0, 4000, "feet")),
    "count": ("So many such rooms", parsing.number(1, 200, "rooms", whole=True)),
    "removed": ("Taken off the list", parsing.flag),
}
_ID = re.compile(r"[A-Za-z0-9-]{1,40}")
MOST_ROOMS = 60


def is_room_field(key: str) -> bool:
    """Whether the field is one cell of one room: `room:ID:CELL`, or `room:ID:line`."""
    return key.startswith("room:")


def parts_of(key: str) -> tuple[str, str]:
    """
    The room's id and the cell.

    :raises Unusable: if it is no cell of a room.
    """
    _, room_id, cell = [*key.split(":"), "", ""][:3]
    if not _ID.fullmatch(room_id) or (cell not in CELLS and cell != "line"):
        raise Unusable(f"A room's cell is named room:ID:CELL, with one of {', '.join(CELLS)}, line.", where=key)
    return room_id, cell


def cell_value(rooms: list[dict[str, Any]], key: str) -> Any:
    """What stands in a cell now; None for nothing."""
    room_id, cell = parts_of(key)
    room = next((room for room in rooms if room["id"] == room_id), {})
    return room_lines.line_of(room) if cell == "line" else room.get(cell)


def with_cell(rooms: list[dict[str, Any]], key: str, value: Any) -> list[dict[str, Any]]:
    """
    The rooms with one cell set; a room with a new id is added at the end. A line of words sets several cells.

    :raises Unusable: for too many rooms, or a name that another room has.
    """
    room_id, cell = parts_of(key)
    new = [dict(room) for room in rooms]
    room = next((room for room in new if room["id"] == room_id), None)
    if room is None:
        if len(new) >= MOST_ROOMS:
            raise Unusable(f"{MOST_ROOMS} rooms fit on one call. Take several together with a count.", where=key)
        room = {"id": room_id}
        new.append(room)
    changes = room_lines.cells_of(value) if cell == "line" else {cell: value}
    for name, entry in changes.items():
        room.pop(name, None)
        if entry is not None:
            room[name] = entry
    return new


def changed_cells(before: list[dict[str, Any]], after: list[dict[str, Any]], key: str) -> set[str]:
    """The names of all cells of the room that a write changed, its line among them."""
    room_id, _ = parts_of(key)
    cells = [f"room:{room_id}:{cell}" for cell in (*CELLS, "line")]
    return {cell for cell in cells if cell_value(before, cell) != cell_value(after, cell)}


def read_cell(key: str, raw: Any) -> Any:
    """
    What was typed into a cell.

    :raises Unusable: if it cannot be meant.
    """
    _, cell = parts_of(key)
    if cell == "line":
        # Kept as cells alone: the line is said anew from them, so that the two never differ.
        return room_lines.line_of(room_lines.cells_of(parsing.text(200)(raw)))
    return CELLS[cell][1](raw)


def read_all(raw: Any) -> list[dict[str, Any]]:
    """
    A whole list of rooms at once, as a program sends it; rooms without an id get one by their place.

    :raises Unusable: naming the room and the cell.
    """
    if not isinstance(raw, (list, tuple)) or len(raw) > MOST_ROOMS:
        raise Unusable(f"Rooms are a list of at most {MOST_ROOMS}.", where="rooms")
    rooms: list[dict[str, Any]] = []
    for index, sent in enumerate(raw):
        if not isinstance(sent, dict):
            raise Unusable("A room is a set of named measures.", where=f"rooms[{index}]")
        room: dict[str, Any] = {"id": str(sent.get("id") or f"r{index + 1}")}
        for cell, value in sent.items():
            if cell == "id":
                continue
            if cell not in CELLS:
                raise Unusable(f"A room has no {cell!r}. It has: {', '.join(CELLS)}.", where=f"rooms[{index}].{cell}")
            try:
                read = None if value is None else CELLS[cell][1](value)
            except Unusable as error:
                raise Unusable(error.message, where=f"rooms[{index}].{cell}") from error
            if read is not None:
                room[cell] = read
        if any(other["id"] == room["id"] for other in rooms):
            raise Unusable("Two rooms have the same id.", where=f"rooms[{index}].id")
        rooms.append(room)
    return rooms
