"""Work that must always stand in the rows, such as tomorrow evening's planning: made again whenever it is missing."""

from collections.abc import Callable
from datetime import datetime

_standing: list[Callable[..., None]] = []


def register_standing(function: Callable[..., None]) -> None:
    """Let `function(*, now)` see to it that its next row exists; it must change nothing when the row is there."""
    if function not in _standing:
        _standing.append(function)


def ensure_standing(*, now: datetime) -> None:
    """Called when a runner starts and every few minutes after."""
    for function in _standing:
        function(now=now)
