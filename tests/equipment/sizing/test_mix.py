"""The mix against a search through every mix, against a greedy one, and against its own two ways of answering."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from equipment.sizing.mix import CatalogueModel, Mix, Need, solve_mix

Counts = tuple[tuple[int, ...], ...]
"""By model, then by need."""


def lgr(model: str, pints: int, amps: str, free: int) -> CatalogueModel:
    return CatalogueModel(model, "lgr", Fraction(amps), free, rated_pints_per_day=Fraction(pints))


def mover(model: str, amps: str, free: int) -> CatalogueModel:
    return CatalogueModel(model, "air_mover", Fraction(amps), free)


def wants(chamber: str, pints: int) -> Need:
    return Need(chamber, "lgr", "pints_per_day", Fraction(pints), "rated_pints_per_day")


def movers(chamber: str, count: int) -> Need:
    return Need(chamber, "air_mover", "count", Fraction(count), None)


def picked(mix: Mix) -> list[tuple[str | None, str, int]]:
    return [(pick.need.chamber, pick.model, pick.count) for pick in mix.picks]


@st.composite
def losses(draw: st.DrawFn, most_needs: int = 2, most_free: int = 3) -> tuple[list[Need], list[CatalogueModel]]:
    pints = st.integers(1, 12).map(lambda n: n * 10)
    models = [
        lgr(f"m{i}", draw(pints), str(draw(st.integers(1, 4))), draw(st.integers(0, most_free)))
        for i in range(draw(st.integers(1, 3)))
    ]
    return [wants(f"c{i}", draw(st.integers(0, 25)) * 7) for i in range(draw(st.integers(1, most_needs)))], models


def every_mix(needs: list[Need], models: list[CatalogueModel]) -> Iterator[Counts]:
    """Every split of every model's free units over the needs."""
    for splits in itertools.product(*(itertools.product(range(model.free + 1), repeat=len(needs)) for model in models)):
        if all(sum(split) <= model.free for split, model in zip(splits, models, strict=True)):
            yield splits


def cost(needs: list[Need], models: list[CatalogueModel], counts: Counts) -> tuple[object, ...]:
    """The order of goals, written down once more."""
    found = [
        sum((counts[m][n] * model.capacity(need.capacity) for m, model in enumerate(models)), Fraction(0))
        for n, need in enumerate(needs)
    ]
    missing = [max(Fraction(0), need.wanted - got) for need, got in zip(needs, found, strict=True)]
    return (
        sum(missing),
        sum(map(sum, counts)),
        sum(sum(split) * model.running_a for split, model in zip(counts, models, strict=True)),
        sum(max(Fraction(0), got - need.wanted) for need, got in zip(needs, found, strict=True)),
        missing,
        [-sum(split) for split in counts],
        [-counts[m][n] for n in range(len(needs)) for m in range(len(models))],
    )


def as_counts(needs: list[Need], models: list[CatalogueModel], mix: Mix) -> Counts:
    taken = {(pick.need.chamber, pick.model): pick.count for pick in mix.picks}
    return tuple(tuple(taken.get((need.chamber, model.model), 0) for need in needs) for model in models)


@settings(max_examples=60, deadline=None)
@given(losses())
def test_the_mix_is_the_best_of_all(loss: tuple[list[Need], list[CatalogueModel]]) -> None:
    needs, models = loss
    best = min(cost(needs, models, counts) for counts in every_mix(needs, models))
    answer = solve_mix(needs, models)
    assert cost(needs, models, as_counts(needs, models, answer)) == best
    assert answer.proven


@settings(max_examples=60, deadline=None)
@given(losses(most_needs=3, most_free=5))
def test_arithmetic_and_solver_give_one_answer(loss: tuple[list[Need], list[CatalogueModel]]) -> None:
    needs, models = loss
    assert solve_mix(needs, models) == solve_mix(needs, models, closed_form=False)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.integers(0, 6), min_size=1, max_size=4),
    st.lists(st.tuples(st.integers(1, 3), st.integers(0, 5)), min_size=1, max_size=3),
)
def test_arithmetic_and_solver_give_one_answer_for_pieces(wanted: list[int], stock: list[tuple[int, int]]) -> None:
    needs = [movers(f"c{i}", count) for i, count in enumerate(wanted)]
    models = [mover(f"m{i}", str(amps), free) for i, (amps, free) in enumerate(stock)]
    assert solve_mix(needs, models) == solve_mix(needs, models, closed_form=False)


@settings(max_examples=60, deadline=None)
@given(losses(most_needs=3, most_free=5))
def test_each_need_is_met_or_the_mix_says_by_how_much_not(loss: tuple[list[Need], list[CatalogueModel]]) -> None:
    needs, models = loss
    mix = solve_mix(needs, models)
    each = {model.model: model.rated_pints_per_day or 0 for model in models}
    short = {row.need.chamber: row.found for row in mix.short}
    for need in needs:
        found = sum(pick.count * each[pick.model] for pick in mix.picks if pick.need.chamber == need.chamber)
        if need.chamber in short:
            assert found == short[need.chamber] < need.wanted
        else:
            assert found >= need.wanted
    for model in models:
        assert sum(pick.count for pick in mix.picks if pick.model == model.model) <= model.free


@settings(max_examples=60, deadline=None)
@given(losses(most_needs=3, most_free=6))
def test_a_greedy_mix_is_never_cheaper(loss: tuple[list[Need], list[CatalogueModel]]) -> None:
    needs, models = loss
    free = [model.free for model in models]
    greedy = [[0] * len(needs) for _ in models]
    for n, need in enumerate(needs):
        left = need.wanted
        for m in sorted(range(len(models)), key=lambda m: -models[m].capacity(need.capacity)):
            each = models[m].capacity(need.capacity)
            greedy[m][n] = min(free[m], max(0, math.ceil(left / each)))
            free[m] -= greedy[m][n]
            left -= greedy[m][n] * each
    ours = cost(needs, models, as_counts(needs, models, solve_mix(needs, models)))
    assert ours <= cost(needs, models, tuple(map(tuple, greedy)))


def test_fewest_units_come_before_least_amps() -> None:
    models = [lgr("large", 150, "11", 4), lgr("small", 75, "5", 9)]
    assert picked(solve_mix([wants("hall", 150)], models)) == [("hall", "large", 1)]


@pytest.mark.parametrize(
    ("models", "chosen"),
    [
        ([lgr("a", 130, "8", 1), lgr("b", 110, "7", 1)], "b"),
        ([lgr("a", 130, "7", 1), lgr("b", 110, "7", 1)], "b"),
        ([lgr("b", 110, "7", 1), lgr("a", 110, "7", 1)], "a"),
    ],
    ids=["least amps", "least surplus", "first name"],
)
def test_what_decides_between_as_many_units(models: list[CatalogueModel], chosen: str) -> None:
    assert picked(solve_mix([wants("hall", 100)], models)) == [("hall", chosen, 1)]


def test_three_machines_of_130_pints_meet_320() -> None:
    assert picked(solve_mix([wants("hall", 320)], [lgr("mid", 130, "7.5", 9)])) == [("hall", "mid", 3)]


def test_a_machine_stands_in_one_chamber() -> None:
    mix = solve_mix([wants("up", 50), wants("down", 50)], [lgr("mid", 130, "7.5", 9)])
    assert picked(mix) == [("up", "mid", 1), ("down", "mid", 1)]


def test_another_kind_never_stands_in() -> None:
    desiccant = CatalogueModel("d", "desiccant", Fraction(12), 9, process_cfm=Fraction(300))
    mix = solve_mix([wants("hall", 50), movers("hall", 2)], [desiccant, mover("m", "1.9", 1)])
    assert picked(mix) == [("hall", "m", 1)]
    assert [(row.need.kind, row.need.unit, row.need.wanted, row.found) for row in mix.short] == [
        ("lgr", "pints_per_day", 50, 0),
        ("air_mover", "count", 2, 1),
    ]


def test_when_stock_is_short_the_first_need_is_met_first() -> None:
    mix = solve_mix([movers("up", 2), movers("down", 2)], [mover("m", "1.9", 3)])
    assert picked(mix) == [("up", "m", 2), ("down", "m", 1)]
    assert [(row.need.chamber, row.found) for row in mix.short] == [("down", 1)]


def test_fractions_are_exact() -> None:
    models = [CatalogueModel("m", "lgr", Fraction(1), 9, rated_pints_per_day=Fraction(1, 3))]
    assert picked(solve_mix([wants("hall", 1)], models)) == [("hall", "m", 3)]


def test_a_model_without_the_wanted_figure_gives_nothing() -> None:
    mix = solve_mix([wants("hall", 10)], [CatalogueModel("blank", "lgr", Fraction(5), 3)])
    assert mix.picks == ()
    assert [row.found for row in mix.short] == [0]


def test_nothing_wanted_takes_nothing() -> None:
    assert solve_mix([], [mover("m", "1.9", 3)]) == Mix((), ())
    assert solve_mix([movers("hall", 0)], []) == Mix((), ())


def test_a_model_given_twice_is_refused() -> None:
    with pytest.raises(ValueError, match="stands twice"):
        solve_mix([movers("hall", 1)], [mover("m", "1.9", 1), mover("m", "1.9", 2)])


def test_one_kind_measured_in_two_ways_is_refused() -> None:
    with pytest.raises(ValueError, match="two different capacities"):
        solve_mix([movers("hall", 1), Need("up", "air_mover", "cfm", Fraction(9), "airflow_cfm")], [])


def test_the_order_of_the_catalogue_changes_nothing() -> None:
    models = [lgr("a", 75, "5", 3), lgr("b", 130, "8", 2), lgr("c", 110, "7", 2), lgr("d", 110, "7", 2)]
    needs = [wants("up", 215), wants("down", 300)]
    assert solve_mix(needs, models) == solve_mix(needs, models[::-1])


def test_the_least_amps_are_found_where_the_solvers_presolve_sees_no_answer() -> None:
    models = [lgr("a", 50, "1", 2), lgr("b", 50, "2", 2), lgr("c", 20, "3", 1)]
    mix = solve_mix([wants("hall", 56)], models)
    assert picked(mix) == [("hall", "a", 2)]
    assert mix.proven
