"""What a crew lead types at a stop, read into the use cases' words; a wrong number is refused by its field."""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from dispatch.crew.readings import PointToday
from jobs import sent
from jobs.drying_values import AirValue, MaterialValue
from jobs.models import AirReading
from jobs.refusals import Refusal, Unusable

SCALES = (("percent_mc", "% MC (wood)"), ("relative_0_100", "relative, 0 to 100"))
MATERIALS = tuple(
    (word, word.replace("_", " "))
    for word in (
        "drywall",
        "wood_framing",
        "wood_subfloor",
        "hardwood_floor",
        "plaster",
        "concrete",
        "masonry",
        "carpet",
        "cushion",
        "laminate",
    )
)


@dataclass(frozen=True)
class NewPoint:
    """A point to be marked, with its first value."""

    room_name: str
    material: str
    meter: str
    scale: str
    dry_standard: float
    goal: float
    value: float | None


def numbers(text: str) -> tuple[str, ...]:
    """
    Unit numbers as scanned or typed, in order, each once.

    :raises Unusable: if there is none.
    """
    found = tuple(dict.fromkeys(text.replace(",", " ").split()))
    if not found:
        raise Unusable("Scan a unit or type its four digits.", where="numbers")
    return found


def minutes(text: str) -> int:
    """
    :raises Unusable: if it is no whole number.
    """
    try:
        return int(text.strip())
    except ValueError as error:
        raise Unusable("Say by how many minutes, in digits, such as 20.", where="minutes") from error


def happened_at(typed: Mapping[str, str]) -> datetime | None:
    """
    When it happened, as a phone without a network kept it; none where it happens now.

    :raises Unusable: if it is no time with its zone.
    """
    text = typed.get("happened_at", "")
    if not text:
        return None
    try:
        found = datetime.fromisoformat(text)
    except ValueError as error:
        raise Unusable("The time of this form cannot be read. Load the page again and send it once more.") from error
    if found.tzinfo is None:
        raise Unusable("The time of this form names no zone. Load the page again and send it once more.")
    return found


def local_time(text: str, zone: ZoneInfo) -> datetime | None:
    """
    A time as a browser's field gives it, on the clock of the place; none where it is empty.

    :raises Unusable: if it is no time.
    """
    if not text.strip():
        return None
    try:
        return datetime.fromisoformat(text.strip()).replace(tzinfo=zone)
    except ValueError as error:
        raise Unusable("Choose a day and a time, such as 2026-01-16 09:30.", where="new_time") from error


def air_slots_in(typed: Mapping[str, str]) -> tuple[str, ...]:
    """The pairs of fields of air in which something is typed, in the order in which `air_values` gives their values."""
    found = {match[1] for name, value in typed.items() if value.strip() and (match := _AIR.fullmatch(name))}
    order = {where: place for place, where in enumerate(AirReading.Where.values)}
    return tuple(sorted(found, key=lambda slot: (order[slot.partition("_")[0]], slot)))


def air_values(typed: Mapping[str, str]) -> tuple[AirValue, ...]:
    """
    :raises Unusable: if one of a pair is missing or no number.
    """
    values = []
    for slot in air_slots_in(typed):
        temperature, humidity = typed.get(f"t_{slot}", "").strip(), typed.get(f"h_{slot}", "").strip()
        if not temperature or not humidity:
            missing = f"h_{slot}" if temperature else f"t_{slot}"
            raise Unusable("Temperature and humidity are taken together: type both.", where=missing)
        chamber, unit = typed.get(f"c_{slot}", "").strip(), typed.get(f"u_{slot}", "").strip()
        where = slot.partition("_")[0]
        values.append(AirValue(where, number(temperature, f"t_{slot}"), number(humidity, f"h_{slot}"), chamber, unit))
    return tuple(values)


def material_values(typed: Mapping[str, str], points: tuple[PointToday, ...]) -> tuple[MaterialValue, ...]:
    """
    :raises Unusable: if a value is no number.
    """
    filled = ((point, typed.get(f"p_{point.point_id}", "").strip()) for point in points)
    return tuple(MaterialValue(point.number, number(value, f"p_{point.point_id}")) for point, value in filled if value)


def new_point(typed: Mapping[str, str]) -> NewPoint | None:
    """
    The new point, if its room is named.

    :raises Unusable: if the dry standard or the goal is missing.
    """
    room = typed.get("new_room", "").strip()
    if not room:
        return None
    for key, name in (("new_meter", "meter"), ("new_standard", "dry standard"), ("new_goal", "goal")):
        if not typed.get(key, "").strip():
            raise Unusable(f"A new point needs its {name}.", where=key)
    value = typed.get("new_value", "").strip()
    return NewPoint(
        room,
        typed.get("new_material", "drywall"),
        typed["new_meter"].strip(),
        typed.get("new_scale", "percent_mc"),
        number(typed["new_standard"], "new_standard"),
        number(typed["new_goal"], "new_goal"),
        number(value, "new_value") if value else None,
    )


def number(text: str, where: str) -> float:
    """
    :raises Unusable: if it is no finite number.
    """
    try:
        value = float(text.strip())
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise Unusable(f"{text.strip()!r} is no number. Type digits, such as 12.5.", where=where)
    return value


def whole(text: str, where: str, wanted: str) -> int:
    """
    :raises Unusable: with what is wanted, if it is no whole number from 0.
    """
    number = sent.whole(text)
    if number is None:
        raise Unusable(wanted, where=where)
    return number


_AIR = re.compile(rf"[th]_((?:{'|'.join(AirReading.Where.values)})(?:_\w+)?)")
_FIELDS = {
    "goal": "new_goal",
    "dry_standard": "new_standard",
    "what": "sign_what",
    "role": "sign_role",
    "name": "sign_name",
    "limits": "sign_limits",
    "seen": "seen_other",
}


def field_of(refusal: Refusal, slots: tuple[str, ...], points: tuple[PointToday, ...]) -> str:
    """The page's name of the field that a refusal of the use cases means; empty where it means none of them."""
    where = refusal.where or ""
    if found := re.fullmatch(r"air\[(\d+)\]\.(dry_bulb_f|rh_pct)", where):
        slot = slots[int(found[1])]
        return f"t_{slot}" if found[2] == "dry_bulb_f" else f"h_{slot}"
    for point in points:
        if where == f"point {point.number}":
            return f"p_{point.point_id}"
    if where.startswith("point "):
        return "new_value"
    if where.startswith("meter "):
        return f"m_{where.removeprefix('meter ')}"
    return _FIELDS.get(where, where)
