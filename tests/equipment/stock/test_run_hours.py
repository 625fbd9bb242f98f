"""Hours that did not run: the meter against elapsed time, also on the nights on which clocks change."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from equipment.stock.run_hours import HoursRun, MeterSeen, Says, hours_run

ZONE = ZoneInfo("America/Los_Angeles")
NOON = datetime(2026, 1, 15, 12, tzinfo=ZONE)


def run(hours: float, ran: float) -> HoursRun:
    return hours_run(MeterSeen(100.0, NOON), MeterSeen(100.0 + ran, NOON + timedelta(hours=hours)))


@pytest.mark.parametrize(
    ("hours", "ran", "says", "silent"),
    [
        (24, 24, Says.RAN, 0),
        (24, 23.2, Says.RAN, 0.8),
        (24, 24.9, Says.RAN, 0),
        (24, 19, Says.SILENT, 5),
        (24, 0, Says.SILENT, 24),
        (24, -1, Says.BACKWARD, None),
        (24, 26, Says.TOO_FAST, None),
        (0.5, 0, Says.RAN, 0.5),
    ],
)
def test_the_meter_against_the_clock(hours: float, ran: float, says: Says, silent: float | None) -> None:
    found = run(hours, ran)
    assert (found.says, found.silent_h) == (says, silent)
    assert found.asks == (says not in {Says.RAN, Says.FIRST})


@pytest.mark.parametrize(("day", "elapsed"), [((2026, 3, 7), 23), ((2026, 10, 31), 25), ((2026, 6, 1), 24)])
def test_a_night_has_the_hours_that_passed(day: tuple[int, int, int], elapsed: int) -> None:
    before = datetime(*day, 12, tzinfo=ZONE)
    found = hours_run(MeterSeen(0, before), MeterSeen(elapsed, before + timedelta(days=1)))
    assert (found.says, found.clock_h, found.silent_h) == (Says.RAN, elapsed, 0)


def test_a_first_look_says_nothing() -> None:
    assert hours_run(None, MeterSeen(5, NOON)) == HoursRun(Says.FIRST)


def test_the_same_moment_twice_is_no_comparison() -> None:
    with pytest.raises(ValueError, match="later"):
        hours_run(MeterSeen(1, NOON), MeterSeen(2, NOON))
