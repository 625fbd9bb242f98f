"""JSON as it is read: strictly, so that nothing is kept that no database keeps and no reader gets back."""

import json
from typing import Any

from django.conf import settings
from rest_framework.exceptions import APIException, ParseError
from rest_framework.parsers import JSONParser

DEEPEST = 20
# What a column of whole numbers holds in both databases.
LARGEST_WHOLE = 2**63 - 1


class TooLarge(APIException):
    """A body that is larger than any that can be meant (413)."""

    status_code = 413
    default_code = "too_large"


class StrictJSONParser(JSONParser):
    """
    UTF-8, at most `DATA_UPLOAD_MAX_MEMORY_SIZE`, every name once, numbers that can be kept, text without NUL.

    :raises TooLarge: and ParseError, which say what would be right.
    """

    def parse(self, stream: Any, media_type: str | None = None, parser_context: Any = None) -> Any:
        most: int = settings.DATA_UPLOAD_MAX_MEMORY_SIZE
        raw = stream.read(most + 1)
        if len(raw) > most:
            raise TooLarge(f"The body is larger than {most // 2**20} MB. Send less at a time.")
        try:
            text = raw.decode("utf-8")
        except UnicodeDecodeError as error:
            raise ParseError("The body is not UTF-8. Send JSON in UTF-8.") from error
        try:
            value = json.loads(text, object_pairs_hook=_object, parse_int=_whole, parse_constant=_constant)
        except RecursionError as error:
            raise _too_deep() from error
        except ValueError as error:
            raise ParseError(f"The body is no JSON that is read here: {error}") from error
        _can_be_kept(value)
        return value


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        twice = next(name for n, (name, _) in enumerate(pairs) if name in {other for other, _ in pairs[:n]})
        raise ValueError(f"{twice!r} stands twice in one object. Send each name once.")
    return found


def _whole(digits: str) -> int:
    number = int(digits) if len(digits) < 30 else LARGEST_WHOLE + 1
    if abs(number) > LARGEST_WHOLE:
        raise ValueError(f"a whole number lies within {LARGEST_WHOLE}, and {digits[:25]} does not.")
    return number


def _constant(name: str) -> None:
    raise ValueError(f"{name} is no number of JSON.")


def _can_be_kept(value: Any) -> None:
    """
    :raises ParseError: if text holds what no database keeps, or the value nests deeper than anything that can be meant.
    """
    todo = [(value, 0)]
    while todo:
        part, depth = todo.pop()
        if depth > DEEPEST:
            raise _too_deep()
        if isinstance(part, str):
            _text(part)
        elif isinstance(part, float) and part in (float("inf"), float("-inf")):
            raise ParseError("A number is larger than any that can be kept.")
        elif isinstance(part, dict):
            todo += [(inner, depth + 1) for pair in part.items() for inner in pair]
        elif isinstance(part, list):
            todo += [(inner, depth + 1) for inner in part]


def _text(text: str) -> None:
    if "\0" in text:
        raise ParseError("Text holds the character NUL, which cannot be kept. Send it without.")
    if not text.isascii() and any("\ud800" <= character <= "\udfff" for character in text):
        raise ParseError("Text holds half of a surrogate pair, which is no character. Send whole characters.")


def _too_deep() -> ParseError:
    return ParseError(f"The body nests deeper than {DEEPEST} levels. Send it flatter.")
