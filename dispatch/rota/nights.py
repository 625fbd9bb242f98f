"""Nights as the rota counts them: from the evening of a day to the next morning, in the area's zone."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from dispatch.rules import figure
from jobs.models import Area


@dataclass(frozen=True)
class NightHours:
    """One night: the day on which it begins, and its half-open hours."""

    of: date
    starts_at: datetime
    ends_at: datetime


def night(area: Area, of: date) -> NightHours:
    """The night that begins on a day."""
    starts = datetime.combine(of, time(figure("night_from_hour")), tzinfo=area.zone)
    ends = datetime.combine(of + timedelta(days=1), time(figure("night_until_hour")), tzinfo=area.zone)
    return NightHours(of, starts, ends)


def tonight(area: Area, now: datetime) -> NightHours:
    """The night that runs, else the one that comes next."""
    local = now.astimezone(area.zone)
    return night(area, local.date() - timedelta(days=local.hour < figure("night_until_hour")))


def nights_of(area: Area, starts_at: datetime, ends_at: datetime) -> tuple[NightHours, ...]:
    """The nights that some hours touch, in order."""
    first = starts_at.astimezone(area.zone).date() - timedelta(days=1)
    days = (ends_at.astimezone(area.zone).date() - first).days + 1
    found = (night(area, first + timedelta(days=number)) for number in range(days))
    return tuple(one for one in found if one.starts_at < ends_at and starts_at < one.ends_at)
