"""From bytes to a plain document: strict JSON, every number exact, nothing ambiguous let through."""

from __future__ import annotations

import json
from decimal import Decimal
from typing import Any

from equipment.sizing.refused import LossRefused, path_of

LARGEST_INPUT_BYTES = 4_000_000
LONGEST_INTEGER_DIGITS = 400


class RepeatedKeys(dict[str, Any]):
    """An object that names one key twice; found again with its path once the whole document is read."""

    repeated = ""


class NotANumber(str):
    """``NaN``, ``Infinity`` or ``-Infinity``, which are not JSON."""


def read_document(raw: bytes | str) -> Any:
    """
    Parse UTF-8 JSON; decimals stay exact.

    :raises LossRefused: for anything but one well-formed JSON document without repeated keys.
    """
    text = _text(raw)
    try:
        document = json.loads(
            text,
            parse_float=Decimal,
            parse_int=_whole,
            parse_constant=NotANumber,
            object_pairs_hook=_object,
        )
    except json.JSONDecodeError as error:
        raise LossRefused(
            "json",
            f"line {error.lineno} column {error.colno}",
            f"This is not JSON: {error.msg}. Give one JSON object in UTF-8.",
        ) from None
    except RecursionError:
        raise LossRefused("json", "document", "Nested far too deeply. A loss needs six levels at most.") from None
    _refuse_ambiguity(document)
    return document


def _text(raw: bytes | str) -> str:
    if len(raw) > LARGEST_INPUT_BYTES:
        raise LossRefused(
            "too_large", "document", f"The input is {len(raw)} long; give at most {LARGEST_INPUT_BYTES} bytes."
        )
    if isinstance(raw, str):
        return raw
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise LossRefused(
            "encoding", f"byte {error.start}", "The input is not UTF-8. Save it as UTF-8 and send it again."
        ) from None


def _whole(token: str) -> int | Decimal:
    # Python refuses to read very long integers; as decimals they reach the range check, which names the key.
    return int(token) if len(token) <= LONGEST_INTEGER_DIGITS else Decimal(token)


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) == len(pairs):
        return found
    seen: set[str] = set()
    marked = RepeatedKeys(found)
    for key, _ in pairs:
        if key in seen:
            marked.repeated = key
            break
        seen.add(key)
    return marked


def _refuse_ambiguity(document: Any) -> None:
    """Look for repeated keys, non-numbers and broken text, with the path of the first one."""
    waiting: list[tuple[tuple[int | str, ...], Any]] = [((), document)]
    while waiting:
        steps, value = waiting.pop()
        if isinstance(value, RepeatedKeys):
            raise LossRefused(
                "repeated_key",
                path_of((*steps, value.repeated)),
                f"The key {value.repeated!r} stands twice here. Keep the one that is meant.",
            )
        if isinstance(value, NotANumber):
            raise LossRefused(
                "not_a_number", path_of(steps) or "document", f"{value} is not a number. Give a finite number."
            )
        if isinstance(value, str):
            _refuse_half_letters(value, steps)
        if isinstance(value, dict):
            for key in value:
                _refuse_half_letters(key, (*steps, key))
            waiting.extend(((*steps, key), below) for key, below in reversed(value.items()))
        elif isinstance(value, list):
            waiting.extend(((*steps, index), below) for index, below in reversed(list(enumerate(value))))


def _refuse_half_letters(text: str, steps: tuple[int | str, ...]) -> None:
    """A lone surrogate, such as an escaped half of an emoji, cannot be written again as UTF-8."""
    if text.isascii() or not any("\ud800" <= letter <= "\udfff" for letter in text):
        return
    where = path_of(steps).encode("ascii", "backslashreplace").decode("ascii")
    raise LossRefused("text", where, "This text holds half a letter (a lone surrogate). Write the whole letter.")
