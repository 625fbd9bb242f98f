"""
Equipment-days: one machine at one job for one day, as payers count days.

`completed_24h` counts whole elapsed periods of 24 hours, `started_24h` also the one that has begun, `calendar_days`
every local date on which the machine was there. Elapsed time knows no clock change; dates are the job's own.

A machine that is carried from room to room stays at the job: its periods go on, and each belongs to the room in which
it began. So the same days are listed whole or room by room, and no day is listed twice.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from equipment.stock.replay import MoveFact, effective

DAY = timedelta(hours=24)


@dataclass(frozen=True)
class Stay:
    """
    One unit in one room over [`begins_at`, `ends_at`), in UTC; the end of a stay that goes on is the time of counting.

    :raises ValueError: if the end comes before the beginning.
    """

    unit: int
    room_name: str
    begins_at: datetime
    ends_at: datetime

    def __post_init__(self) -> None:
        # Two times of one zone are compared and subtracted as wall times, an hour off when clocks change between them.
        object.__setattr__(self, "begins_at", self.begins_at.astimezone(UTC))
        object.__setattr__(self, "ends_at", self.ends_at.astimezone(UTC))
        if self.ends_at < self.begins_at:
            raise ValueError("a stay ends after it begins")


def stays(moves: Iterable[MoveFact], *, holder: int, until: datetime) -> tuple[Stay, ...]:
    """The stays of one unit with the holder, from its entries alone, up to `until`; a stay of no length is none."""
    found: list[Stay] = []
    began: MoveFact | None = None
    for move in effective(moves):
        at = min(move.happened_at, until)
        if began is not None and (move.holder != holder or move.room_name != began.room_name):
            found.append(Stay(began.unit, began.room_name, began.happened_at, at))
            began = None
        if began is None and move.holder == holder and move.happened_at < until:
            began = move
    if began is not None:
        found.append(Stay(began.unit, began.room_name, began.happened_at, until))
    return tuple(stay for stay in found if stay.begins_at < stay.ends_at)


def completed_24h(stays: Iterable[Stay]) -> Counter[str]:
    """Whole periods of 24 hours of one unit, by the room in which each began."""
    return _periods(stays, lambda length: length // DAY)


def started_24h(stays: Iterable[Stay]) -> Counter[str]:
    """Periods of 24 hours of one unit, the one that has begun among them, by the room in which each began."""
    return _periods(stays, lambda length: -(-length // DAY))


def calendar_days(stays: Iterable[Stay], zone: ZoneInfo) -> Counter[str]:
    """Local dates on which one unit was there, by the room in which it was first seen on that date."""
    rooms: dict[date, str] = {}
    for stay in sorted(stays, key=lambda stay: stay.begins_at):
        day = stay.begins_at.astimezone(zone).date()
        # The last instant of a half-open stay lies before its end.
        last = (stay.ends_at - timedelta.resolution).astimezone(zone).date()
        while day <= last:
            rooms.setdefault(day, stay.room_name)
            day += timedelta(days=1)
    return Counter(rooms.values())


def _periods(stays: Iterable[Stay], count: Callable[[timedelta], int]) -> Counter[str]:
    days: Counter[str] = Counter()
    for run in _runs(stays):
        for number in range(count(run[-1].ends_at - run[0].begins_at)):
            at = run[0].begins_at + number * DAY
            days[next(stay.room_name for stay in reversed(run) if stay.begins_at <= at)] += 1
    return days


def _runs(stays: Iterable[Stay]) -> Iterator[list[Stay]]:
    """Stays that follow one another without a gap."""
    run: list[Stay] = []
    for stay in sorted(stays, key=lambda stay: stay.begins_at):
        if run and run[-1].ends_at != stay.begins_at:
            yield run
            run = []
        run.append(stay)
    if run:
        yield run
