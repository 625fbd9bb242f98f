"""The invented calls: what the caller says line by line, and what a good taker would have asked, in which order."""

import json
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from django.conf import settings

FILE = "practice_calls.json"


@dataclass(frozen=True)
class Expected:
    """One thing to ask: the field, its value as the caller would tell it (None: any answer), and why it matters."""

    field: str
    value: str | None
    why: str


@dataclass(frozen=True)
class Script:
    """One invented call; `asks` stand in the order in which a good taker asks."""

    code: str
    title: str
    lines: tuple[str, ...]
    asks: tuple[Expected, ...]
    rooms: int
    ends_as: str
    ends_why: str


@cache
def scripts() -> tuple[Script, ...]:
    """Every invented call, the easiest first."""
    told: list[dict[str, Any]] = json.loads((Path(settings.BASE_DIR) / "fixtures_demo" / FILE).read_text("utf-8"))
    return tuple(
        Script(
            row["code"],
            row["title"],
            tuple(row["lines"]),
            tuple(Expected(ask["field"], ask["value"], ask["why"]) for ask in row["asks"]),
            row["rooms"],
            row["ends_as"],
            row["ends_why"],
        )
        for row in told
    )


def script_of(code: str) -> Script:
    """
    The call of this code.

    :raises KeyError: if there is none.
    """
    return {script.code: script for script in scripts()}[code]
