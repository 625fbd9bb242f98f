"""What the caller of a demo job said, in the fields of a call."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

Row = Mapping[str, str]
_SAME = (
    ("street", "street"),
    ("unit", "unit"),
    ("zip", "zip_code"),
    ("town", "town"),
    ("state", "state"),
    ("loss_source", "water_source"),
    ("water", "running"),
    ("power", "power"),
    ("category", "category"),
    ("hours_wet_at_call", "hours_wet"),
    ("building", "building"),
    ("year_built", "year_built"),
    ("dwelling_units", "dwelling_units"),
    ("care", "care"),
    ("language", "language"),
    ("payer", "payer"),
    ("claim_number", "claim_number"),
    ("referred_by", "referred_by"),
)
_CELLS = (
    "length_ft",
    "width_ft",
    "height_ft",
    "wet_floor_sqft",
    "wet_lower_wall_sqft",
    "wet_upper_wall_sqft",
    "wet_ceiling_sqft",
    "wet_wood_floor_sqft",
    "floor",
)


def answers_of(job: Row, contacts: Sequence[Row]) -> Iterator[tuple[str, Any]]:
    """Field and value, in the order in which they are asked."""
    caller = next(person for person in contacts if person["called"] == "yes")
    opener = next((person for person in contacts if person["lets_us_in"] == "yes"), None)
    yield "callback_number", caller["phone"]
    yield "caller_name", caller["name"]
    yield "caller_role", caller["role"]
    if job["hazards"]:
        yield "hazards", job["hazards"].split()
    yield "point", [float(job["lat"]), float(job["lon"])]
    for column, field in _SAME:
        if job[column]:
            yield field, job[column]
    yield "access", ". ".join(filter(None, (job["access"], _code(job), f"Parking: {job['parking']}")))
    yield "lets_in", _by(opener, caller, job["access"])
    yield "can_sign", caller["role"]


def rooms_of(rooms: Sequence[Row], runs: Sequence[Row]) -> list[dict[str, Any]]:
    """The rooms as cells of a call; empty cells and zeros are what nobody told."""
    told = []
    for number, room in enumerate(rooms, start=1):
        cells: dict[str, Any] = {"id": f"r{number}", "name": room["room"], "chamber": room["chamber"]}
        cells |= {cell: room[cell] for cell in _CELLS if room[cell] not in {"", "0"}}
        cavity_ft = sum(float(run["length_ft"]) for run in runs if run["room"] == room["room"])
        if cavity_ft:
            cells["wall_cavity_ft"] = cavity_ft
        told.append(cells)
    return told


def _code(job: Row) -> str:
    return f"Code {job['access_code']}" if job["access_code"] else ""


def _by(opener: Row | None, caller: Row, access: str) -> str:
    """Who lets us in: the caller by role, another by name and number, or how we get in without anybody."""
    if opener is None:
        return access
    return caller["role"] if opener == caller else f"{opener['name']}, {opener['phone']}"
