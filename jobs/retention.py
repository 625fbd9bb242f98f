"""
Erasing personal and access data on schedule: each kind has its period in `retention.toml` and one function that erases.

The ledgers and the journal hold no such data, so that their seals stay valid whatever is erased.
"""

import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any
from uuid import UUID, uuid5

from django.conf import settings
from django.contrib.auth.models import User
from django.core.exceptions import ImproperlyConfigured
from django.utils import timezone

from jobs import due_work
from jobs.people import system_user
from jobs.use_case import use_case

WORK = "jobs.erase_on_schedule"
QUIET_HOUR = 4
NAMESPACE = UUID("5b0e4a44-6c0a-4d43-8a37-0f3e8f2f9b61")
# `function(before, erase)` finds what is older, erases it unless it is only asked, and says how many rows that is.
Eraser = Callable[[datetime, bool], int]
_erasers: dict[str, Eraser] = {}


@dataclass(frozen=True)
class Period:
    """How long one kind of data is kept."""

    kind: str
    days: int
    counted_from: str
    what: str
    source: str


@dataclass(frozen=True)
class Erased:
    """How many rows of each kind were erased, or would be."""

    rows: dict[str, int]


def register(kind: str, eraser: Eraser) -> None:
    """Let this function erase the data of a kind that `retention.toml` has a period for."""
    _erasers[kind] = eraser


@cache
def periods(own: str = "") -> dict[str, Period]:
    """
    The periods by kind; `own` names a file with other days.

    :raises ImproperlyConfigured: if that file cannot be read or names what there is not.
    """
    given = tomllib.loads(Path(__file__).with_name("retention.toml").read_text(encoding="utf-8"))
    for kind, row in _own(own).items():
        if kind not in given or set(row) - {"days", "source"} or not _whole(row.get("days")):
            raise ImproperlyConfigured(
                f"EBBLINE_RETENTION, [{kind}]: say days = a whole number, for one of {', '.join(sorted(given))}"
            )
        given[kind] |= row
    return {
        kind: Period(kind, row["days"], row["from"], row["what"], row["source"]) for kind, row in sorted(given.items())
    }


def in_force() -> dict[str, Period]:
    """The periods of this installation."""
    return periods(settings.RETENTION_FILE)


@use_case("erase_on_schedule")
def erase_on_schedule(*, key: UUID, actor: User, now: datetime) -> Erased:
    """Erase everything whose period is over; what was erased before is not found again."""
    return Erased(_each(now, erase=True))


def would_erase(*, now: datetime) -> Erased:
    """What would be erased now; nothing is changed."""
    return Erased(_each(now, erase=False))


def nightly(*, now: datetime, work_id: int) -> dict[str, int]:
    """Handler: erase, and be there again tomorrow."""
    schedule(now=now)
    return erase_on_schedule(key=uuid5(NAMESPACE, str(work_id)), actor=system_user(), now=now).rows


def schedule(*, now: datetime) -> None:
    """Let the next erasing run in the quiet hour of the coming night; asking again changes nothing."""
    local = timezone.localtime(now)
    at = local.replace(hour=QUIET_HOUR, minute=0, second=0, microsecond=0)
    if at <= local:
        at += timedelta(days=1)
    due_work.enqueue(kind=WORK, arguments={}, due_at=at, now=now, coalesce=WORK)


def _each(now: datetime, *, erase: bool) -> dict[str, int]:
    found = in_force()
    return {kind: _erasers[kind](now - timedelta(days=found[kind].days), erase) for kind in sorted(_erasers)}


def _own(name: str) -> dict[str, Any]:
    if not name:
        return {}
    try:
        return tomllib.loads(Path(name).read_text(encoding="utf-8"))
    except (OSError, tomllib.TOMLDecodeError) as error:
        raise ImproperlyConfigured(f"EBBLINE_RETENTION={name!r} cannot be read: {error}") from error


def _whole(value: Any) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and value >= 0
