"""Labor on site: sums by hand."""

from datetime import UTC, datetime, timedelta

from dispatch.crew.hours import Spent, labor_min

EIGHT = datetime(2026, 1, 15, 16, tzinfo=UTC)


def at(minutes: int) -> datetime:
    return EIGHT + timedelta(minutes=minutes)


DAY = [
    Spent("J-1", at(0), at(20), at(65)),
    Spent("J-2", at(70), at(95), None),
    Spent("J-3", None, None, None),
]


def test_labor_is_the_time_on_site_and_goes_on_until_now() -> None:
    assert labor_min(DAY, at(110)) == 45 + 15
    assert labor_min(DAY[2:], at(110)) == 0
    assert labor_min([Spent("J-4", None, at(5), at(3))], at(9)) == 0


def test_two_visits_at_one_address_are_one_time_on_site() -> None:
    refueling, monitoring = Spent("J-5", None, at(0), None), Spent("J-5", None, at(20), at(30))
    assert labor_min([monitoring, refueling], at(40)) == 40
    assert labor_min([Spent("J-5", None, at(0), at(10)), monitoring], at(40)) == 10 + 10
