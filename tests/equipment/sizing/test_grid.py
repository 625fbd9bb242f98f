"""Amounts on the solvers' grid: exact where people measure, on the safe side elsewhere, whole in 64 bits."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from equipment.sizing.grid import STEPS, down, up
from equipment.sizing.port import size_document
from tests.equipment.sizing.losses import chamber, loss, model, room

AMOUNTS = st.fractions(min_value=0, max_value=10**7)


@given(AMOUNTS)
def test_up_and_down_enclose_the_amount_within_one_step(amount: Fraction) -> None:
    assert down(amount) <= amount <= up(amount)
    assert up(amount) - down(amount) <= Fraction(1, STEPS)
    assert STEPS % up(amount).denominator == 0


@given(st.decimals(min_value=0, max_value=10**6, places=6), st.sampled_from([1, 3, 9, 30, 40, 50, 60]))
def test_six_decimals_and_thirds_are_exact(amount: object, divisor: int) -> None:
    exact = Fraction(str(amount))
    assert up(exact) == down(exact) == exact
    whole = Fraction(int(exact), divisor)
    assert up(whole) == whole


def test_numbers_with_many_decimals_reach_the_solvers_all_the_same() -> None:
    stock = [
        model("a", "lgr", rated_pints_per_day=70.123456789012345, running_a=7.512345678901234, free=3),
        model("b", "lgr", rated_pints_per_day=99.98765432101234, running_a=3.3333333333333335, free=3),
        model("m", "air_mover", running_a=1.8999999999999999),
    ]
    one = room(length_ft=33.123456789012345, width_ft=27.123456789012345, height_ft=8.123456789, wet_floor_sqft=300.1)
    circuits = [{"breaker_a": 15, "reserved_a": 1.1234567890123}] * 3
    report = size_document(loss(chamber(one), catalogue=stock, circuits=circuits))
    assert report.short == ()
    assert all(circuit.used_a <= circuit.limit_a for circuit in report.power.circuits)


def test_an_absurdly_large_building_is_still_answered() -> None:
    hall = room(length_ft=1000, width_ft=1000, height_ft=100, wet_floor_sqft=10**6)
    report = size_document(loss(chamber(hall), circuits=[{"breaker_a": 20, "reserved_a": 0}]))
    placed = sum(sum(circuit.units.values()) for circuit in report.power.circuits)
    assert placed + sum(report.power.unplaced.values()) == sum(row.count for row in report.mix)
    assert placed == 8
