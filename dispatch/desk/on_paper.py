"""What the desk's printed sheets share: times by the desk's clock, and a counted table that is left out when empty."""

from collections.abc import Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from reportlab.platypus import Flowable

from jobs.paper import SMALL, section, table


def at(when: datetime | None, zone: ZoneInfo) -> str:
    """A time by the desk's clock with its weekday, `Thu 3:05 AM`; "" for none."""
    return "" if when is None else f"{when.astimezone(zone):%a %-I:%M %p}"


def part(title: str, head: Sequence[str], shares: Sequence[float], rows: Sequence[Sequence[str]]) -> list[Flowable]:
    """A titled table with the number of its rows; nothing where there are none."""
    return section(f"{title}: {len(rows)}", table(head, rows, shares, SMALL)) if rows else []
