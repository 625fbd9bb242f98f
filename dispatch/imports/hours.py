"""Hours of shifts and crews: a local day with two clock times, the second perhaps past midnight."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo


def at(day: date, clock: time, zone: ZoneInfo) -> datetime:
    """The moment of a local clock time."""
    return datetime.combine(day, clock, tzinfo=zone)


def after(day: date, start: time, clock: time, zone: ZoneInfo) -> datetime:
    """The first such clock time after `start` on the day: on the next day when it is not later."""
    return at(day + timedelta(days=clock <= start), clock, zone)


def double_booked(rows: Iterable[tuple[int, Any, Mapping[str, Any]]]) -> Iterator[tuple[int, Any, int]]:
    """
    Rows whose hours meet those of an earlier row of the same resource: (line, resource, line of the earlier one).

    Hours are half-open. Wall clocks are compared: a double hour in the autumn night belongs to one row all the same.
    """
    taken: dict[Any, list[tuple[datetime, datetime, int]]] = defaultdict(list)
    for line, who, values in rows:
        taken[who].append((*_hours(values), line))
    for who, periods in taken.items():
        periods.sort()
        latest, by = periods[0][1], periods[0][2]
        for start, until, line in periods[1:]:
            if start < latest:
                yield max(line, by), who, min(line, by)
            if until > latest:
                latest, by = until, line


def _hours(values: Mapping[str, Any]) -> tuple[datetime, datetime]:
    zone = ZoneInfo("UTC")
    return at(values["day"], values["from"], zone), after(values["day"], values["from"], values["until"], zone)
