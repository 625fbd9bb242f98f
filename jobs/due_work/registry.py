"""Which function does which kind of work."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from typing import Any


@dataclass(frozen=True)
class Handler:
    """
    A function for one kind of work; the lease must outlast its slowest run, or the time between two renewals.

    `given_up(*, now, work_id, **arguments)`, where there is one, is told that the last try failed or died.
    """

    kind: str
    function: Callable[..., Any]
    lease: timedelta
    tries: int
    queue: str
    given_up: Callable[..., None] | None = None


_handlers: dict[str, Handler] = {}


def register(
    kind: str,
    function: Callable[..., Any],
    *,
    lease: timedelta = timedelta(minutes=2),
    tries: int = 5,
    queue: str = "quick",
    given_up: Callable[..., None] | None = None,
) -> None:
    """
    Let `function(*, now, work_id, **arguments)` do work of this kind. Queue `plan` is for what solves.

    :raises ValueError: if another function has the kind.
    """
    known = _handlers.get(kind)
    if known is not None and known.function is not function:
        raise ValueError(f"{kind} is already done by {known.function.__qualname__}")
    _handlers[kind] = Handler(kind, function, lease, tries, queue, given_up)


def handler_for(kind: str) -> Handler:
    """
    :raises LookupError: if no app registered the kind.
    """
    try:
        return _handlers[kind]
    except KeyError:
        raise LookupError(f"no handler is registered for work of kind {kind!r}") from None


def kinds() -> tuple[str, ...]:
    """The kinds that can be done, in order."""
    return tuple(sorted(_handlers))
