"""Drying against replacing, in dollars."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.science.restore import BadCost, DailyCost, compare

MOVERS = DailyCost("air mover", 4, Decimal("28.50"))
LGR = DailyCost("dehumidifier", 1, Decimal("86.00"))


def test_a_worked_comparison() -> None:
    found = compare(daily=[MOVERS, LGR], days=(3, 4, 7), replacement_cost=Decimal(1900), restore_fixed=Decimal(150))
    assert found.per_day == Decimal("200.00")
    assert (found.restore_low, found.restore_likely, found.restore_high) == (750, 950, 1550)
    assert found.replace == 1900
    assert found.break_even_days == Decimal("8.8")
    assert found.verdict == "restore"
    assert found.working[0] == "air mover: 4 x $28.50 = $114.00 a day"
    assert "$750.00 to $1550.00" in found.why


@pytest.mark.parametrize(
    ("replacement", "verdict"),
    [(1400, "restore"), (1399, "close"), (1000, "close"), (600, "close"), (599, "replace")],
)
def test_the_days_decide_only_between_the_low_and_the_high(replacement: int, verdict: str) -> None:
    found = compare(daily=[DailyCost("all", 1, Decimal(200))], days=(3, 4, 7), replacement_cost=Decimal(replacement))
    assert found.verdict == verdict


def test_days_that_run_on_although_it_is_replaced_count_for_replacing() -> None:
    found = compare(daily=[LGR], days=(3, 4, 7), replacement_cost=Decimal(300), days_if_replaced=2)
    assert found.replace == Decimal("472.00")


def test_drying_that_costs_nothing_has_no_break_even() -> None:
    found = compare(daily=[], days=(3, 4, 7), replacement_cost=Decimal(300))
    assert found.break_even_days is None
    assert found.verdict == "restore"


money = st.decimals(0, 20000, places=2)
day_counts = st.lists(st.integers(0, 40), min_size=3, max_size=3).map(sorted)


@given(money, day_counts, money, money)
def test_a_dearer_replacement_never_speaks_more_for_replacing(
    rate: Decimal, days: list[int], replacement: Decimal, extra: Decimal
) -> None:
    order = ("replace", "close", "restore")
    low, likely, high = days
    daily = [DailyCost("all", 1, rate)]
    first = compare(daily=daily, days=(low, likely, high), replacement_cost=replacement)
    dearer = compare(daily=daily, days=(low, likely, high), replacement_cost=replacement + extra)
    assert order.index(dearer.verdict) >= order.index(first.verdict)


def test_costs_that_make_no_sense_are_refused() -> None:
    with pytest.raises(BadCost, match="count is -1"):
        DailyCost("air mover", -1, Decimal(20))
    with pytest.raises(BadCost, match="daily rate"):
        DailyCost("air mover", 1, Decimal("NaN"))
    with pytest.raises(BadCost, match="rising order"):
        compare(daily=[LGR], days=(4, 3, 7), replacement_cost=Decimal(300))
    with pytest.raises(BadCost, match="replacement cost"):
        compare(daily=[LGR], days=(3, 4, 7), replacement_cost=Decimal(-1))
