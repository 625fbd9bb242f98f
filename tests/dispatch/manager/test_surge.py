"""What a surge can be served with, worked by hand, and against a count one set at a time."""

from hypothesis import given
from hypothesis import strategies as st

from dispatch.manager.surge import (
    AIR_MOVERS,
    DEHUMIDIFIERS,
    Base,
    SetRule,
    Transfer,
    capacity,
    runs_out,
    transfers,
)

RULE = SetRule({AIR_MOVERS: 5, DEHUMIDIFIERS: 1}, minutes=75, drive_minutes=30, reserve_percent=15)


def base(name: str, movers: list[int], dehumidifiers: list[int], waiting: int = 0) -> Base:
    # All that can work is what is free now: nothing is out.
    stock = {AIR_MOVERS: movers[0], DEHUMIDIFIERS: dehumidifiers[0]}
    return Base(name, stock, {AIR_MOVERS: movers, DEHUMIDIFIERS: dehumidifiers}, waiting)


def test_the_smaller_of_equipment_and_people_is_served() -> None:
    # 40 free, 34 after the reserve: 6 sets of 5. 12 free dehumidifiers, 10 after the reserve.
    found = capacity([base("North", [40], [12])], [10.0, 3.6, 1.0, 0.0], RULE)
    assert (found.by_equipment, found.scarcest) == (6, AIR_MOVERS)
    # 105 minutes each: 5 in 10 h, 2 in 3.6 h, none in 1 h.
    assert found.by_people == 7
    assert found.served == 6


def test_promises_above_stock_serve_nobody() -> None:
    assert capacity([base("North", [-3], [12])], [10.0], RULE).served == 0


def test_what_is_over_goes_to_where_callers_wait() -> None:
    bases = [base("North", [40], [12], waiting=1), base("South", [4], [0], waiting=2)]
    # North: 34 - 5 = 29 movers over, 10 - 1 = 9 dehumidifiers. South: 3 - 10 = 7 short, 0 - 2 = 2 short.
    assert transfers(bases, RULE) == (
        Transfer(AIR_MOVERS, 7, "North", "South"),
        Transfer(DEHUMIDIFIERS, 2, "North", "South"),
    )


def test_when_something_runs_out_and_how_many_to_rent() -> None:
    # 2 callers wait and 3 ring each hour: 5 * (2 + 3 h) movers needed; 34 can be given: enough at 0, 1, short at 2.
    # At 3 h 55 are needed and 18 of 24 can be given: 6 of 40 are kept back.
    movers, dehumidifiers = runs_out([base("North", [40, 40, 40, 24], [20] * 4, waiting=2)], RULE, 3.0)
    assert (movers.in_hours, movers.rent) == (2, 37)
    assert (dehumidifiers.in_hours, dehumidifiers.rent) == (None, 0)


counts = st.integers(-5, 60)


@given(st.lists(st.tuples(counts, counts, st.integers(0, 6)), min_size=1, max_size=4))
def test_transfers_move_only_what_is_over_and_leave_no_gap_that_could_be_filled(
    rows: list[tuple[int, int, int]],
) -> None:
    bases = [base(f"W{number}", [movers], [dry], waiting) for number, (movers, dry, waiting) in enumerate(rows)]
    for part, per in RULE.units.items():
        over = {row.name: RULE.usable(row.free[part][0], row.stock[part]) - per * row.waiting for row in bases}
        for move in transfers(bases, RULE):
            if move.part == part:
                assert move.count > 0
                over[move.source] -= move.count
                over[move.to] += move.count
                assert over[move.source] >= 0
                assert over[move.to] <= 0
        assert min(over.values()) >= 0 or max(over.values()) <= 0
