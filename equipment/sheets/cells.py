"""What one cell may hold. A reader turns text into a value or says what is wrong and what would be right."""

import re
import zoneinfo
from collections.abc import Callable
from datetime import date, time, timedelta
from typing import Any

Reader = Callable[[str, date], Any]

_STATE_LETTERS = (
    "AL AK AZ AR CA CO CT DE DC FL GA HI ID IL IN IA KS KY LA ME MD MA MI MN MS MO MT NE NV NH NJ NM NY NC ND OH OK OR "
    "PA RI SC SD TN TX UT VT VA WA WV WI WY"
)
STATES = frozenset(_STATE_LETTERS.split())
_RELATIVE = re.compile(r"^(0|[+-]\d{1,4})$")


class BadCell(ValueError):
    """The cell cannot be meant; the message says what would be right."""


def text(at_most: int) -> Reader:
    """Any words, up to so many characters."""

    def read(cell: str, today: date) -> str:
        if len(cell) > at_most:
            raise BadCell(f"has {len(cell)} characters; at most {at_most} fit")
        if not cell.isprintable():
            raise BadCell("holds a character that cannot be printed; type it again")
        return cell

    return read


def code(at_most: int) -> Reader:
    """A short name that other files refer to: letters, digits, hyphen, underscore."""

    def read(cell: str, today: date) -> str:
        if not re.fullmatch(r"[A-Za-z0-9_-]+", cell) or len(cell) > at_most:
            raise BadCell(f"{cell!r} is no short name; use at most {at_most} letters, digits, - and _, such as north-1")
        return cell

    return read


def codes(at_most: int) -> Reader:
    """Short names divided by blanks; they come back in order, each once, divided by one blank."""
    one = code(at_most)

    def read(cell: str, today: date) -> str:
        return " ".join(sorted({str(one(word, today)) for word in cell.split()}))

    return read


def pattern(shape: str, right: str) -> Reader:
    """Text of one shape; `right` is an example."""

    def read(cell: str, today: date) -> str:
        if not re.fullmatch(shape, cell):
            raise BadCell(f"{cell!r} does not look like {right}")
        return cell

    return read


def whole(at_least: int, at_most: int) -> Reader:
    """A whole number inside the limits, both included."""

    def read(cell: str, today: date) -> int:
        if not re.fullmatch(r"-?\d{1,9}", cell):
            raise BadCell(f"{cell!r} is no whole number; write {at_least} to {at_most} without commas")
        if not at_least <= int(cell) <= at_most:
            raise BadCell(f"{cell} is outside {at_least} to {at_most}")
        return int(cell)

    return read


def number(at_least: float, at_most: float) -> Reader:
    """A decimal number inside the limits, both included."""

    def read(cell: str, today: date) -> float:
        if not re.fullmatch(r"-?\d{1,9}(\.\d{1,9})?", cell):
            raise BadCell(f"{cell!r} is no number; write {at_least:g} to {at_most:g}, with a point for decimals")
        if not at_least <= float(cell) <= at_most:
            raise BadCell(f"{cell} is outside {at_least:g} to {at_most:g}")
        return float(cell)

    return read


def one_of(*words: str) -> Reader:
    """One of a few words."""

    def read(cell: str, today: date) -> str:
        if cell not in words:
            raise BadCell(f"{cell!r} is none of: {', '.join(words)}")
        return cell

    return read


def yes_no(cell: str, today: date) -> bool:
    """`yes` or `no`."""
    return bool(one_of("yes", "no")(cell, today) == "yes")


def state(cell: str, today: date) -> str:
    """A US state by its two letters."""
    if cell not in STATES:
        raise BadCell(f"{cell!r} is no US state; write two capital letters, such as OR")
    return cell


def state_or_us(cell: str, today: date) -> str:
    """A US state, or `US` for what holds in all of them."""
    if cell == "US":
        return cell
    return str(state(cell, today))


def time_zone(cell: str, today: date) -> str:
    """A name of the time zone database."""
    if cell not in zoneinfo.available_timezones():
        raise BadCell(f"{cell!r} is no time zone; America/Los_Angeles would be one")
    return cell


def day(cell: str, today: date) -> date:
    """A date, or a signed count of days from today (so that an example never grows old)."""
    if _RELATIVE.match(cell):
        return today + timedelta(days=int(cell))
    try:
        if not re.fullmatch(r"\d{4}-\d\d-\d\d", cell):
            raise ValueError
        found = date.fromisoformat(cell)
    except ValueError:
        raise BadCell(f"{cell!r} is no date; write it as 2027-03-31, or as days from today such as +30") from None
    if not 1950 <= found.year <= 2100:
        raise BadCell(f"{cell} is outside the years 1950 to 2100")
    return found


def clock(cell: str, today: date) -> time:
    """A local time of day."""
    if not re.fullmatch(r"([01]\d|2[0-3]):[0-5]\d", cell):
        raise BadCell(f"{cell!r} is no time of day; write it as 07:00 or 18:30")
    return time.fromisoformat(cell)


def plain_value(cell: str, today: date) -> int | float | str | list[str]:
    """A rule's value: a number, one word, or several words as a list."""
    if re.fullmatch(r"-?\d{1,9}", cell):
        return int(cell)
    if re.fullmatch(r"-?\d{1,9}\.\d{1,6}", cell):
        return float(cell)
    words = cell.split()
    return words if len(words) > 1 else cell


phone = pattern(r"[2-9]\d\d-\d{3}-\d{4}", "a phone number with its area code, such as 360-555-0123")
zip_code = pattern(r"\d{5}(-\d{4})?", "a ZIP code, such as 98661")
user_name = pattern(r"[a-z][a-z0-9._-]{1,39}", "a user name: small letters and digits, such as jmarsh")
