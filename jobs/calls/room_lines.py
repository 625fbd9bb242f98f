"""
A room told in one line: `kitchen 13x15 hardwood floor 150 walls 70 ceiling 110 cavity 35 wood 150`.

Read leniently, since it is saved while it is typed: without a size the words are the room's name, and a last word that
is not finished yet is left out.
"""

import re
from collections.abc import Mapping
from typing import Any

from jobs.calls import parsing
from jobs.refusals import Unusable

FLOORS = {
    "carpet": "carpet",
    "hardwood_floor": "hardwood",
    "laminate": "laminate",
    "sheet_vinyl": "vinyl",
    "vinyl_tile": "vinyl tile",
    "ceramic_tile": "tile",
    "concrete": "concrete",
    "wood_subfloor": "subfloor",
}
_FLOOR_WORDS = {word: key for key, word in FLOORS.items() if " " not in word}
# What is wet, by the word that is said; the first word of each is the one that is said back.
_WET = {
    "floor": "wet_floor_sqft",
    "walls": "wet_lower_wall_sqft",
    "upper": "wet_upper_wall_sqft",
    "ceiling": "wet_ceiling_sqft",
    "cavity": "wall_cavity_ft",
    "wood": "wet_wood_floor_sqft",
    "wet": "wet_floor_sqft",
    "wall": "wet_lower_wall_sqft",
    "cavities": "wall_cavity_ft",
}
_SAID_BACK = dict(list(_WET.items())[:6])
WORDS = (*_WET, *_FLOOR_WORDS)
# A minus is read too, so that a size that cannot be is refused and does not become part of the name.
_NUMBER = r"-?\d+(?:\.\d+)?"
_SIZE = re.compile(
    rf"(?<!\S)({_NUMBER})\s*(?:x|by|\*)\s*({_NUMBER})(?:\s*(?:x|by|\*)\s*({_NUMBER}))?(?!\S)", re.IGNORECASE
)
_WITH_AMOUNT = re.compile(rf"(?<!\S)({'|'.join(_WET)})\s+{_NUMBER}(?!\S)", re.IGNORECASE)
_HEIGHT_FT = 8
_CELLS = ("name", "length_ft", "width_ft", "height_ft", "floor", *_SAID_BACK.values())
_edge, _area = parsing.number(0, 1000, "feet"), parsing.number(0, 1_000_000, "square feet")


def cells_of(line: str | None) -> dict[str, Any]:
    """
    The cells that a line sets; those that it does not name are cleared. With a size and no word on what is wet, the
    whole floor is; a word without a number means the whole of that surface.

    :raises Unusable: for a word that says nothing, or a number without its word.
    """
    cells: dict[str, Any] = dict.fromkeys(_CELLS)
    words = line or ""
    size = _SIZE.search(words)
    if size is not None:
        name, rest = words[: size.start()], words[size.end() :]
        cells |= dict(zip(("length_ft", "width_ft", "height_ft"), map(_edge_or_none, size.groups()), strict=True))
    else:
        first = _WITH_AMOUNT.search(words)
        cut = first.start() if first else len(words)
        name, rest = words[:cut], words[cut:]
    cells["name"] = name.strip(" ,:") or None
    _read_rest(rest, cells)
    if size is not None and all(cells[cell] is None for cell in _SAID_BACK.values()):
        cells["wet_floor_sqft"] = _whole("wet_floor_sqft", cells)
    return cells


def line_of(room: Mapping[str, Any]) -> str | None:
    """The line that says these cells."""
    parts = [room.get("name") or ""]
    if room.get("length_ft") is not None and room.get("width_ft") is not None:
        height = room.get("height_ft")
        parts.append(
            "x".join(f"{edge:g}" for edge in (room["length_ft"], room["width_ft"], height) if edge is not None)
        )
    parts.append(FLOORS.get(room.get("floor") or "", ""))
    parts += [f"{word} {room[cell]:g}" for word, cell in _SAID_BACK.items() if room.get(cell) is not None]
    return " ".join(part for part in parts if part) or None


def _read_rest(rest: str, cells: dict[str, Any]) -> None:
    words = [word.lower() for word in rest.replace(",", " ").split()]
    waiting: str | None = None
    for index, word in enumerate(words):
        if word == "vinyl" and words[index + 1 : index + 2] == ["tile"]:
            cells["floor"] = "vinyl_tile"
        elif word == "tile" and cells["floor"] == "vinyl_tile":
            continue
        elif word in _FLOOR_WORDS:
            cells["floor"] = _FLOOR_WORDS[word]
        elif word in _WET:
            waiting = _WET[word]
            cells[waiting] = _whole(waiting, cells)
        elif re.fullmatch(_NUMBER, word) and waiting is not None:
            cells[waiting], waiting = _area(word), None
        elif re.fullmatch(_NUMBER, word):
            raise Unusable("Say before a number what it is: floor 150 walls 70 ceiling 110 cavity 35 wood 150.")
        elif index < len(words) - 1 or not any(known.startswith(word) for known in WORDS):
            raise Unusable(f"After the size these words are known: {', '.join(WORDS)}.")


def _edge_or_none(edge: str | None) -> Any:
    return None if edge is None else _edge(edge)


def _whole(cell: str, cells: Mapping[str, Any]) -> float | None:
    """The whole of a surface, meant by its word without a number; None while the size is not known."""
    length_ft, width_ft = cells["length_ft"], cells["width_ft"]
    if length_ft is None or width_ft is None:
        return None
    height_ft = cells["height_ft"] or _HEIGHT_FT
    around_ft = 2 * (length_ft + width_ft)
    whole: float = {
        "wet_lower_wall_sqft": around_ft * 2,
        "wet_upper_wall_sqft": around_ft * max(0, height_ft - 2),
        "wall_cavity_ft": around_ft,
    }.get(cell, length_ft * width_ft)
    return int(whole) if whole == int(whole) else whole
