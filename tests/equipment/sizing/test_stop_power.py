"""The power plan of a stop: sums and lines by hand; a suggestion never goes over a line."""

import random
from fractions import Fraction as F

import pytest

from equipment.sizing.stop_power import GivenCircuit, RunningUnit, check, suggest

SHARE = F(4, 5)
KITCHEN, HALL = GivenCircuit("Kitchen", F(15)), GivenCircuit("Hall", F(20), F(6))


def units(*amps: str) -> list[RunningUnit]:
    return [RunningUnit(str(2000 + n), f"model {each}", F(each)) for n, each in enumerate(amps)]


def test_sums_and_lines() -> None:
    # 80 % of 15 A is 12 A; of 20 A it is 16 A, less 6 A in use 10 A.
    found = check(
        units("7.5", "4.5", "2.4", "7.7"), [KITCHEN, HALL], {"2000": 0, "2001": 0, "2002": 1, "2003": 1}, SHARE
    )
    assert [(use.used_a, use.limit_a, use.over_a) for use in found.circuits] == [(12, 12, 0), (F("10.1"), 10, F("0.1"))]
    assert [use.name for use in found.over] == ["Hall"]
    assert found.without == ()


def test_what_has_no_circuit_is_named() -> None:
    assert check(units("2", "3"), [KITCHEN], {"2001": 0}, SHARE).without == ("2000",)
    with pytest.raises(ValueError, match="no circuit 3"):
        check(units("2"), [KITCHEN, HALL], {"2000": 2}, SHARE)


@pytest.mark.parametrize("seed", range(12))
def test_a_suggestion_keeps_every_line_and_leaves_nothing_that_fits(seed: int) -> None:
    some = random.Random(seed)
    there = units(*(some.choice(("1.9", "2.8", "7.5", "10.5")) for _ in range(some.randint(1, 9))))
    circuits = [GivenCircuit(f"C{n}", F(some.choice((15, 20)))) for n in range(some.randint(1, 3))]
    places = suggest(there, circuits, SHARE)
    found = check(there, circuits, places, SHARE)
    assert not found.over
    left = {unit.number: unit.amps for unit in there if unit.number in found.without}
    assert all(amps > use.limit_a - use.used_a for amps in left.values() for use in found.circuits)


@pytest.mark.parametrize(("breaker", "used"), [(0, 0), (15, 16), (15, -1)])
def test_an_impossible_circuit_cannot_be_built(breaker: int, used: int) -> None:
    with pytest.raises(ValueError, match="breaker"):
        GivenCircuit("x", F(breaker), F(used))
