"""A report that was written as a document, read again as what it was: for showing and printing what was kept."""

from __future__ import annotations

from functools import cache
from typing import Any

from pydantic import TypeAdapter

from equipment.sizing.report import KEYS, Report

_FIELDS = {key: name for name, key in KEYS.items()}
_ABSENT = {"pints_per_day": None, "process_cfm": None}


def report_of(document: dict[str, Any]) -> Report:
    """
    The report whose ``as_document`` this is; decimals are taken as they are written.

    :raises pydantic.ValidationError: for anything else.
    """
    return _reports().validate_python(_typed(document))


@cache
def _reports() -> TypeAdapter[Report]:
    return TypeAdapter(Report)


def _typed(value: Any) -> Any:
    if isinstance(value, dict):
        typed = {_FIELDS.get(key, key): _typed(each) for key, each in value.items()}
        return _ABSENT | typed if "derated_pints_per_day" in typed else typed
    if isinstance(value, list):
        return tuple(_typed(each) for each in value)
    # As text, so that 55.04 becomes the fraction 5504/100 and not that of the nearest binary number.
    return repr(value) if isinstance(value, float) else value
