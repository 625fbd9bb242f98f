"""The demo's days and moments, as the files write them."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from dispatch.demo.clock import DemoClock

ZONE = ZoneInfo("America/Los_Angeles")
CLOCK = DemoClock(date(2027, 3, 14), ZONE, datetime(2027, 3, 14, 20, 0, tzinfo=UTC))


@pytest.mark.parametrize(
    ("cell", "moment"),
    [
        ("0 07:00", "2027-03-14T14:00:00+00:00"),
        ("-1 23:30", "2027-03-14T07:30:00+00:00"),
        ("+1 06:15", "2027-03-15T13:15:00+00:00"),
        ("now-40m", "2027-03-14T19:20:00+00:00"),
        ("now+90m", "2027-03-14T21:30:00+00:00"),
    ],
)
def test_a_moment_is_local_to_the_company(cell: str, moment: str) -> None:
    """Clocks went forward in the night to day 0, so the evening before lies an hour farther from it."""
    assert CLOCK.moment(cell).astimezone(UTC) == datetime.fromisoformat(moment)


@pytest.mark.parametrize("cell", ["", "07:00", "1 07:00", "-1", "now", "-1 7:00", "-1 25:00"])
def test_anything_else_is_refused(cell: str) -> None:
    with pytest.raises(ValueError, match=r"no moment of the demo|hour must be"):
        CLOCK.moment(cell)
