"""JSON is read strictly: what no database keeps, or no reader gets back, is refused with what would be right."""

import io
import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rest_framework.exceptions import ParseError

from jobs.api_parser import DEEPEST, LARGEST_WHOLE, StrictJSONParser, TooLarge

TEXTS = st.text(st.characters(exclude_categories=("Cs",), exclude_characters="\0"))
NUMBERS = st.integers(-LARGEST_WHOLE, LARGEST_WHOLE) | st.floats(allow_nan=False, allow_infinity=False)
JSON = st.recursive(
    st.none() | st.booleans() | NUMBERS | TEXTS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXTS, inner, max_size=3),
    max_leaves=8,
)


def parse(raw: bytes) -> Any:
    return StrictJSONParser().parse(io.BytesIO(raw))


@given(JSON)
def test_what_can_be_kept_is_read_as_it_is(value: Any) -> None:
    assert parse(json.dumps(value).encode()) == value


@pytest.mark.parametrize(
    ("raw", "says"),
    [
        (b"", "no JSON"),
        (b"{", "no JSON"),
        (b"\xff", "UTF-8"),
        (b'{"a": 1, "b": 2, "a": 1}', "'a' stands twice"),
        (b"[NaN]", "NaN is no number"),
        (b"[-Infinity]", "Infinity is no number"),
        (b"[1e999]", "larger"),
        (b"[9223372036854775808]", "whole number"),
        (b"[-" + b"9" * 5_000 + b"]", "whole number"),
        (b'["\\u0000"]', "NUL"),
        (b'{"\\u0000": 1}', "NUL"),
        (b'["\\ud800"]', "surrogate"),
        (b"[" * (DEEPEST + 2) + b"]" * (DEEPEST + 2), "deeper"),
        (b"[" * 200_000, "deeper"),
    ],
)
def test_what_cannot_be_kept_is_refused(raw: bytes, says: str) -> None:
    with pytest.raises(ParseError, match=says):
        parse(raw)


def test_a_body_larger_than_any_that_can_be_meant_is_not_read(settings: Any) -> None:
    settings.DATA_UPLOAD_MAX_MEMORY_SIZE = 2**20
    with pytest.raises(TooLarge, match="1 MB"):
        parse(b'"' + b"x" * 2**20 + b'"')
