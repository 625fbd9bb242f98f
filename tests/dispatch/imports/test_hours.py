"""Hours of shifts and crews, past midnight and over the nights on which clocks change."""

from datetime import date, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from dispatch.imports.hours import after, at, double_booked

ZONE = ZoneInfo("America/Los_Angeles")


def row(line: int, who: str, day: int, start: str, until: str) -> tuple[int, str, dict[str, object]]:
    hours = {"from": time.fromisoformat(start), "until": time.fromisoformat(until)}
    return line, who, {"day": date(2027, 1, day), **hours}


@pytest.mark.parametrize(
    ("start", "until", "hours"), [("07:00", "16:00", 9), ("18:00", "06:00", 12), ("06:00", "06:00", 24)]
)
def test_an_end_that_is_not_later_is_on_the_next_day(start: str, until: str, hours: int) -> None:
    begun = time.fromisoformat(start)
    day = date(2027, 1, 15)

    assert after(day, begun, time.fromisoformat(until), ZONE) - at(day, begun, ZONE) == timedelta(hours=hours)


@pytest.mark.parametrize(("day", "hours"), [(date(2027, 3, 13), 11), (date(2027, 11, 6), 13)])
def test_a_night_in_which_clocks_change_is_shorter_or_longer(day: date, hours: int) -> None:
    begun = at(day, time(18), ZONE)
    ended = after(day, time(18), time(6), ZONE)

    assert ended.timestamp() - begun.timestamp() == hours * 3600


def test_a_night_that_runs_into_the_next_morning_is_double_booked() -> None:
    rows = [
        row(2, "ann", 15, "18:00", "06:00"),
        row(3, "ann", 16, "05:00", "09:00"),
        row(4, "bo", 16, "05:00", "09:00"),
    ]

    assert list(double_booked(rows)) == [(3, "ann", 2)]


def test_hours_that_only_touch_are_free() -> None:
    assert list(double_booked([row(2, "ann", 15, "07:00", "16:00"), row(3, "ann", 15, "16:00", "18:00")])) == []
