"""Peaks and first free instants against counting hour by hour."""

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from equipment.stock.availability import Use, first_free, free_until, peak_use

START = datetime(2026, 1, 16, tzinfo=UTC)
HOURS = 12
Hours = tuple[int, int, int]


def hour(number: int) -> datetime:
    return START + timedelta(hours=number)


def uses(rows: list[Hours]) -> list[Use]:
    return [Use(hour(start), hour(start + length), quantity) for start, length, quantity in rows]


def level(rows: list[Hours], at: int) -> int:
    return sum(quantity for start, length, quantity in rows if start <= at < start + length)


some = st.lists(st.tuples(st.integers(0, HOURS), st.integers(1, HOURS), st.integers(0, 4)), max_size=8)
stocks, wanteds, hours, lengths = st.integers(0, 8), st.integers(1, 5), st.integers(0, HOURS), st.integers(1, HOURS)


@given(some, hours, lengths)
def test_peak_is_the_highest_hour(rows: list[Hours], start: int, length: int) -> None:
    highest = max(level(rows, at) for at in range(start, start + length))
    assert peak_use(uses(rows), hour(start), hour(start + length)) == highest


@given(some, stocks, wanteds, hours, lengths)
def test_first_free_is_the_first_hour_from_which_enough_is_free_for_as_long(
    rows: list[Hours], stock: int, wanted: int, start: int, length: int
) -> None:
    enough = (
        at
        for at in range(start, 4 * HOURS)
        if all(level(rows, at + later) + wanted <= stock for later in range(length))
    )
    first = next(enough, None) if wanted <= stock else None
    found = first_free(uses(rows), stock, wanted, hour(start), timedelta(hours=length))
    assert found == (None if first is None else hour(first))


@given(some, stocks, wanteds, hours)
def test_free_until_is_the_first_hour_without_enough(rows: list[Hours], stock: int, wanted: int, at: int) -> None:
    lacking = (later for later in range(at, 4 * HOURS) if level(rows, later) + wanted > stock)
    first = next(lacking, None)
    assert free_until(uses(rows), stock, wanted, hour(at)) == (None if first is None else hour(first))
