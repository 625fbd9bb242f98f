"""The demo's time: days count from the day of loading, so that the invented company never grows old."""

import re
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

_MOMENT = re.compile(r"^(0|[+-]\d{1,3}) (\d\d:\d\d)$")
_BEFORE_NOW = re.compile(r"^now([+-]\d{1,3})m$")


@dataclass(frozen=True)
class DemoClock:
    """Day 0, its zone, and the moment of loading."""

    day_zero: date
    zone: ZoneInfo
    now: datetime

    def day(self, cell: str) -> date:
        """`+1` is the day after day 0."""
        return self.day_zero + timedelta(days=int(cell))

    def at(self, day: str, clock: str) -> datetime:
        """A local clock time on a day; `now+60m` in place of the clock counts from the moment of loading."""
        if found := _BEFORE_NOW.match(clock):
            return self.now + timedelta(minutes=int(found[1]))
        return datetime.combine(self.day(day), time.fromisoformat(clock), tzinfo=self.zone)

    def moment(self, cell: str) -> datetime:
        """
        `-3 14:20` or `now-40m`.

        :raises ValueError: for anything else.
        """
        if _BEFORE_NOW.match(cell):
            return self.at("0", cell)
        found = _MOMENT.match(cell)
        if found is None:
            raise ValueError(f"{cell!r} is no moment of the demo; -3 14:20 or now-40m would be one")
        return self.at(found[1], found[2])
