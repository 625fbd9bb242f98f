"""Packing against a search through every packing, and against its own figures added up unit by unit."""

from __future__ import annotations

import itertools
from fractions import Fraction
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from equipment.sizing import circuit_solver
from equipment.sizing.power import Circuit, Load, Packing, pack


def load(model: str, amps: str, count: int) -> Load:
    return Load(model, Fraction(amps), count)


def circuits(*limits: str) -> list[Circuit]:
    return [Circuit(Fraction(limit)) for limit in limits]


def placed_units(packing: Packing) -> int:
    return sum(sum(circuit.values()) for circuit in packing.circuits)


def placed_amps(units: list[Load], packing: Packing) -> Fraction:
    amps = {unit.model: unit.amps for unit in units}
    return sum((amps[model] * n for circuit in packing.circuits for model, n in circuit.items()), Fraction(0))


small_loads = st.lists(st.integers(10, 90), min_size=1, max_size=7).map(
    lambda tenths: [Load(f"m{t:02}", Fraction(t, 10), tenths.count(t)) for t in sorted(set(tenths))]
)
small_circuits = st.lists(st.sampled_from(["5", "7.5", "12", "16"]), min_size=1, max_size=3).map(
    lambda limits: circuits(*limits)
)


def best_by_search(units: list[Load], on: list[Circuit]) -> tuple[int, Fraction]:
    """Most units, then most amps, of every unit on every circuit or nowhere."""
    each = tuple(unit.amps for unit in units for _ in range(unit.count))

    @cache
    def best(index: int, room: tuple[Fraction, ...]) -> tuple[int, Fraction]:
        if index == len(each):
            return 0, Fraction(0)
        answers = [best(index + 1, room)]
        for at, left in enumerate(room):
            if each[index] <= left:
                rest = best(index + 1, tuple(sorted((*room[:at], left - each[index], *room[at + 1 :]))))
                answers.append((rest[0] + 1, rest[1] + each[index]))
        return max(answers)

    return best(0, tuple(sorted(circuit.limit_a for circuit in on)))


@settings(max_examples=80, deadline=None)
@given(small_loads, small_circuits)
def test_packing_equals_brute_force(units: list[Load], on: list[Circuit]) -> None:
    packing = pack(units, on)
    assert packing.proven
    assert (placed_units(packing), placed_amps(units, packing)) == best_by_search(units, on)


@settings(max_examples=40, deadline=None)
@given(small_loads, small_circuits)
def test_counting_by_circuit_gives_as_much_as_patterns(units: list[Load], on: list[Circuit]) -> None:
    """What stands in where the patterns are too many to weigh."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(circuit_solver, "MOST_PATTERNS", 0)
        packing = pack(units, on)
    assert packing.proven
    assert (placed_units(packing), placed_amps(units, packing)) == best_by_search(units, on)
    every = sum(unit.count for unit in units)
    for more in packing.more:
        limit = Circuit(Fraction(more.breaker_a) * Fraction(4, 5))
        assert best_by_search(units, [*on, *([limit] * more.count)])[0] == every
        if more.least:
            assert best_by_search(units, [*on, *([limit] * (more.least - 1))])[0] < every


@settings(max_examples=60, deadline=None)
@given(small_loads, small_circuits)
def test_no_circuit_is_overloaded_and_no_unit_is_lost(units: list[Load], on: list[Circuit]) -> None:
    packing = pack(units, on)
    amps = {unit.model: unit.amps for unit in units}
    for circuit, limit in zip(packing.circuits, on, strict=True):
        assert sum(amps[model] * n for model, n in circuit.items()) <= limit.limit_a
        assert all(n > 0 for n in circuit.values())
    for unit in units:
        placed = sum(circuit.get(unit.model, 0) for circuit in packing.circuits)
        assert placed + packing.unplaced.get(unit.model, 0) == unit.count


@settings(max_examples=30, deadline=None)
@given(small_loads, small_circuits)
def test_the_further_circuits_do_and_one_fewer_does_not(units: list[Load], on: list[Circuit]) -> None:
    every = sum(unit.count for unit in units)
    for more in pack(units, on).more:
        limit = Circuit(Fraction(more.breaker_a) * Fraction(4, 5))
        assert more.count == more.least > 0
        assert best_by_search(units, [*on, *([limit] * more.count)])[0] == every
        assert best_by_search(units, [*on, *([limit] * (more.count - 1))])[0] < every


@pytest.mark.parametrize(
    ("amps", "limit", "fits"),
    [
        (["1.9"] * 6, "12", True),
        (["1.9"] * 7, "12", False),
        (["8.3", "4.7", "1.5"], "16", True),
        (["8.3", "4.7", "1.5", "1.9"], "16", False),
        (["8.3", "4.7", "1.5"], "12", False),
        (["12"], "12", True),
        (["12.01"], "12", False),
    ],
)
def test_a_circuit_is_full_at_its_limit_and_not_before(amps: list[str], limit: str, fits: bool) -> None:
    units = [load(f"m{i}", a, 1) for i, a in enumerate(amps)]
    assert (not pack(units, circuits(limit)).unplaced) == fits


def test_a_unit_over_every_limit_is_named_and_the_rest_is_placed() -> None:
    packing = pack([load("heater", "12.5", 1), load("mover", "1.9", 3)], circuits("12"))
    assert packing.too_large == ("heater",)
    assert packing.unplaced == {"heater": 1}
    assert packing.circuits == ({"mover": 3},)
    # A 20 A circuit would carry it, a 15 A one would not.
    assert [(more.breaker_a, more.count) for more in packing.more] == [(20, 1)]
    assert packing.generator_kw == Fraction(3, 2)


def test_without_circuits_nothing_is_placed_and_the_total_is_told() -> None:
    packing = pack([load("mover", "1.9", 3)], [])
    assert packing.total_a == Fraction(57, 10)
    assert (packing.circuits, packing.unplaced, packing.too_large) == ((), {"mover": 3}, ())
    assert packing.proven


def test_a_circuit_wholly_reserved_takes_nothing() -> None:
    assert pack([load("mover", "1.9", 1)], circuits("-3", "0")).unplaced == {"mover": 1}


def test_as_many_units_as_possible_come_before_most_amps() -> None:
    assert pack([load("large", "10", 1), load("small", "4", 3)], circuits("12")).circuits == ({"small": 3},)
    units = [load("large", "9", 1), load("mid", "8", 1), load("small", "3", 1)]
    assert pack(units, circuits("12")).circuits == ({"large": 1, "small": 1},)


def test_one_model_given_in_parts_is_one_load() -> None:
    assert pack([load("m", "2", 1), load("m", "2", 2)], circuits("12")).circuits == ({"m": 3},)
    with pytest.raises(ValueError, match="give one figure"):
        pack([load("m", "2", 1), load("m", "3", 2)], circuits("12"))


def test_a_load_that_draws_nothing_stands_on_the_first_circuit() -> None:
    assert pack([load("passive", "0", 2)], circuits("12", "16")).circuits == ({"passive": 2}, {})


def test_fifty_units_on_too_few_circuits_are_proven_whatever_their_order() -> None:
    units = [load(f"m{i}", a, n) for i, (a, n) in enumerate([("7.5", 8), ("6.2", 5), ("3.9", 12), ("1.9", 25)])]
    on = circuits(*["12"] * 6, *["16"] * 4)
    packing = pack(units, on)
    assert packing.proven
    assert packing.unplaced
    assert packing == pack(units[::-1], on)


def test_models_that_draw_the_same_are_placed_by_name() -> None:
    units = [load("a", "5", 2), load("b", "5", 2), load("c", "5", 2)]
    for order in itertools.permutations(units):
        assert pack(list(order), circuits("12", "5")).unplaced == {"b": 1, "c": 2}


def test_a_size_that_cannot_carry_a_load_left_over_is_not_offered() -> None:
    # The 16 A circuit holds one of the two heaters; no number of 12 A circuits holds the other.
    packing = pack([load("heater", "12.5", 2)], circuits("16"))
    assert packing.unplaced == {"heater": 1}
    assert [(more.breaker_a, more.count) for more in packing.more] == [(20, 1)]
