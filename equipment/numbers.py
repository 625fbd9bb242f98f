"""Reading a unit's number from a scanner, a tag or gloved fingers."""

import re

from jobs.refusals import Unusable

DIGITS = 4
_TAG = re.compile(r"[A-Z]{0,3}[0-9]{1,8}")


def unit_number(text: str) -> str:
    """
    The number as it stands on the unit: digits filled up to four, letters in capitals, what surrounds them dropped.

    :raises Unusable: if there is no number in it.
    """
    found = _TAG.fullmatch(re.sub(r"[\s#:./_-]+", "", text.upper()))
    if found is None:
        raise Unusable(
            f"{text.strip()[:20]!r} is no unit number. Scan the tag or type its four digits.", where="numbers"
        )
    number = found.group()
    return number.zfill(DIGITS) if number.isdigit() else number


def unit_numbers(text: str) -> tuple[str, ...]:
    """Several numbers, divided by blanks, commas or line ends; each one once, in order."""
    return tuple(dict.fromkeys(unit_number(part) for part in re.split(r"[\s,;]+", text) if part))
