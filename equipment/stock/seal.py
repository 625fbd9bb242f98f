"""
The seal of a journal's entry: a digest of what it says and of the entry before it about the same thing.

An entry that is changed, left out or put in between breaks the chain at its place. The seal is no signature: who may
write the database can also write seals; it names mistakes and careless hands, not a determined forger.
"""

import hashlib
import json
from collections.abc import Iterable
from datetime import UTC, datetime
from uuid import UUID

Value = str | int | float | bool | datetime | UUID | None


def seal(previous: str, values: Iterable[Value]) -> str:
    """The seal of an entry with these values, after the entry that was sealed `previous` ("" for the first)."""
    text = json.dumps([previous, *(_plain(value) for value in values)], ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def _plain(value: Value) -> str | int | float | bool | None:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    if isinstance(value, UUID):
        return str(value)
    return value
