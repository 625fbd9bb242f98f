"""When a promise falls due, whether it was kept, and how long is left in plain words. No database."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo


def elapsed(start: datetime, *, minutes: int) -> datetime:
    """So many real minutes later, in UTC: on the nights on which clocks change an hour is still 60 minutes."""
    return start.astimezone(UTC) + timedelta(minutes=minutes)


def end_of_day(on: date, zone: str) -> datetime:
    """The midnight that ends a day in the zone, in UTC: 23 or 25 hours after it began where clocks change."""
    return datetime.combine(on + timedelta(days=1), time.min, ZoneInfo(zone)).astimezone(UTC)


def kept(*, due_at: datetime, happened_at: datetime) -> bool:
    """At the very moment it falls due is in time."""
    return happened_at <= due_at


def in_words(*, due_at: datetime, now: datetime) -> str:
    """
    How long is left, to the minute and never rosier than it is: "12 min left", "due now", "late by 2 h 5 min".

    Minutes that are left are rounded down, those that it is late are rounded up.
    """
    # Two times in one zone subtract by the wall clock; the real difference is that of the instants.
    left = due_at.astimezone(UTC) - now.astimezone(UTC)
    if left < timedelta(0):
        return f"late by {_span(-(left // timedelta(minutes=1)))}"
    minutes = left // timedelta(minutes=1)
    return f"{_span(minutes)} left" if minutes else "due now"


def _span(minutes: int) -> str:
    days, rest = divmod(minutes, 24 * 60)
    hours, rest = divmod(rest, 60)
    if days:
        return f"{days} d {hours} h" if hours else f"{days} d"
    if hours:
        return f"{hours} h {rest} min" if rest else f"{hours} h"
    return f"{rest} min"
