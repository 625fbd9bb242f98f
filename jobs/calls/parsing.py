"""
Reading what was typed. Each reader takes text or a JSON value and gives a JSON value; None means cleared.

A refusal never repeats what was typed, because refused calls are recorded and names or numbers could stand in it.
"""

import math
import re
from collections.abc import Callable
from typing import Any

from jobs.places import STATE_NAMES
from jobs.refusals import Unusable

Reader = Callable[[Any], Any]


def text(at_most: int) -> Reader:
    """Any words, up to a length; spaces at the ends and doubled ones are dropped."""

    def read(raw: Any) -> str | None:
        words = " ".join(str(raw).split())
        if len(words) > at_most:
            raise Unusable(f"This is {len(words)} characters long; {at_most} fit. Shorten it.")
        return words or None

    return read


def phone(raw: Any) -> str | None:
    """A phone number, perhaps not yet complete: a dropped line leaves the digits that were said."""
    words = " ".join(str(raw).split())
    if not words:
        return None
    if not re.fullmatch(r"[+0-9().\-/ ]+( ?(x|ext\.?) ?[0-9]+)?", words, re.IGNORECASE):
        raise Unusable("A phone number holds digits, like 360-555-0100. Type only what was said as digits.")
    if len(words) > 20:
        raise Unusable("This is longer than a phone number. 360-555-0100 would be one.")
    return words


def zip_code(raw: Any) -> str | None:
    """A ZIP code, perhaps not yet complete."""
    digits = str(raw).strip()
    if not re.fullmatch(r"[0-9]{0,5}(-[0-9]{0,4})?", digits):
        raise Unusable("A ZIP code is five digits, like 98661.")
    return digits or None


def state(raw: Any) -> str | None:
    """A state by its two letters or its name; the two served states by their first letter."""
    words = " ".join(str(raw).split()).upper()
    if not words:
        return None
    by_name = {name.upper(): code for code, name in STATE_NAMES.items()}
    found = by_name.get(words, words)
    if found not in STATE_NAMES:
        raise Unusable("A state is two letters: WA is Washington, OR is Oregon.")
    return found


def point(raw: Any) -> list[float] | None:
    """Latitude and longitude in degrees: `45.6207, -122.5799`, or a list of two."""
    parts = list(raw) if isinstance(raw, (list, tuple)) else [part for part in re.split(r"[,;\s]+", str(raw)) if part]
    if not parts:
        return None
    wanted = "Coordinates are latitude, then longitude, in degrees: 45.6207, -122.5799."
    if len(parts) != 2:
        raise Unusable(wanted)
    try:
        lat, lon = float(parts[0]), float(parts[1])
    except (TypeError, ValueError) as error:
        raise Unusable(wanted) from error
    if not (-90 <= lat <= 90 and -180 <= lon <= 180):
        raise Unusable(wanted)
    if lon > 0:
        raise Unusable("West of Greenwich the longitude is negative: 45.6207, -122.5799.")
    return [round(lat, 6), round(lon, 6)]


def number(low: float, high: float, unit: str, *, whole: bool = False) -> Reader:
    """A number from `low` to `high`, both included."""

    def read(raw: Any) -> float | int | None:
        words = str(raw).strip().replace(",", "")
        if not words:
            return None
        try:
            value = float(words)
        except ValueError as error:
            raise Unusable(f"A number of {unit} is wanted, from {low:g} to {high:g}.") from error
        if not math.isfinite(value) or not low <= value <= high or isinstance(raw, bool):
            raise Unusable(f"From {low:g} to {high:g} {unit} can be meant here.")
        if whole or value == int(value):
            if value != int(value):
                raise Unusable(f"A whole number of {unit} is wanted, from {low:g} to {high:g}.")
            return int(value)
        return value

    return read


def year(raw: Any) -> int | None:
    """A year; an unfinished one is refused like a wrong one, since it would choose the wrong rule for lead paint."""
    digits = str(raw).strip()
    if not digits:
        return None
    if not re.fullmatch(r"1[7-9][0-9]{2}|20[0-9]{2}", digits):
        raise Unusable("A year has four digits, like 1996.")
    return int(digits)


def choice(words: dict[str, str]) -> Reader:
    """One of a few words, by its key or by what the screen shows."""
    by_label = {label.lower(): key for key, label in words.items()}

    def read(raw: Any) -> str | None:
        wanted = str(raw).strip().lower()
        if not wanted:
            return None
        found = wanted if wanted in words else by_label.get(wanted)
        if found is None:
            raise Unusable(f"One of these is wanted: {', '.join(words.values())}.")
        return found

    return read


def choices(words: dict[str, str]) -> Reader:
    """Any of a few words; a list, or text with commas."""
    one = choice(words)

    def read(raw: Any) -> list[str] | None:
        parts = raw if isinstance(raw, (list, tuple)) else str(raw).split(",")
        found = {one(part) for part in parts} - {None}
        return [key for key in words if key in found] or None

    return read


def flag(raw: Any) -> bool | None:
    """Yes or no."""
    if isinstance(raw, bool):
        return raw
    words = str(raw).strip().lower()
    if not words:
        return None
    if words in {"yes", "y", "true", "on", "1"}:
        return True
    if words in {"no", "n", "false", "off", "0"}:
        return False
    raise Unusable("Yes or no is wanted.")


def circuits(raw: Any) -> list[dict[str, float]] | None:
    """120 V branch circuits that may be used, by breaker in amps: `15, 20 (6), 20`; reserved amps stand in brackets."""
    if isinstance(raw, (list, tuple)):
        rows = [(row.get("breaker_a"), row.get("reserved_a", 0)) for row in raw if isinstance(row, dict)]
        whole = len(rows) == len(raw)
    else:
        found = re.findall(r"(\d+(?:\.\d+)?)\s*(?:\(\s*(\d+(?:\.\d+)?)\s*\))?", str(raw))
        rows = [(breaker, reserved or 0) for breaker, reserved in found]
        whole = not re.sub(r"(\d+(?:\.\d+)?)\s*(?:\(\s*(\d+(?:\.\d+)?)\s*\))?|[,;\s]", "", str(raw))
    wanted = "Circuits are breaker sizes in amps with commas between: 15, 20, 20. What is in use stands behind: 20 (6)."
    if not whole:
        raise Unusable(wanted)
    amps = number(0, 100, "amps")
    pairs = [(amps(breaker), amps(reserved)) for breaker, reserved in rows]
    if any(not breaker or reserved > breaker for breaker, reserved in pairs):
        raise Unusable(wanted)
    return [{"breaker_a": breaker, "reserved_a": reserved} for breaker, reserved in pairs] or None
