"""
Which models from which free stock meet each need: a covering by whole units, solved by counts per model.

The mix leaves least uncovered; then it takes the fewest units, then the least amps, then the least surplus, then the
first model names. Kinds never stand in for one another, so each kind is solved by itself.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from equipment.sizing import cover_solver
from equipment.sizing.cover_solver import Cover, Stock

Unit = Literal["pints_per_day", "cfm", "count"]
Capacity = Literal["rated_pints_per_day", "process_cfm", "airflow_cfm", "outlets", "covers_sqft"]


@dataclass(frozen=True, slots=True)
class Need:
    """What one chamber (None: the whole loss) wants of one kind, in the unit of ``capacity`` (None: pieces)."""

    chamber: str | None
    kind: str
    unit: Unit
    wanted: Fraction
    capacity: Capacity | None

    def __post_init__(self) -> None:
        if self.wanted < 0:
            raise ValueError(f"{self.chamber or 'the loss'} wants {self.wanted} of {self.kind}; give zero or more.")


@dataclass(frozen=True, slots=True)
class CatalogueModel:
    """A model of one kind, how many are free for this loss, and what one unit does; None: it does not do that."""

    model: str
    kind: str
    running_a: Fraction
    free: int
    rated_pints_per_day: Fraction | None = None
    process_cfm: Fraction | None = None
    airflow_cfm: Fraction | None = None
    outlets: int | Fraction | None = None
    covers_sqft: Fraction | None = None

    def capacity(self, name: Capacity | None) -> Fraction:
        """What one unit gives towards a need."""
        if name is None:
            return Fraction(1)
        value: int | Fraction | None = getattr(self, name)
        return Fraction(0) if value is None else Fraction(value)


@dataclass(frozen=True, slots=True)
class Pick:
    """So many units of a model for one need."""

    need: Need
    model: str
    count: int


@dataclass(frozen=True, slots=True)
class ShortOf:
    """A need that the free stock does not cover, and how much of it is covered, in the need's unit."""

    need: Need
    found: Fraction


@dataclass(frozen=True, slots=True)
class Mix:
    """Picks in the order of the needs, then by model name; ``short`` is empty where every need is met."""

    picks: tuple[Pick, ...]
    short: tuple[ShortOf, ...]
    proven: bool = True
    """No other mix is better; False only where the solver's deterministic limit was reached."""


def warm() -> None:
    """Load the solver beforehand: its import takes most of a second."""
    cover_solver.warm()


def solve_mix(needs: Sequence[Need], catalogue: Sequence[CatalogueModel], *, closed_form: bool = True) -> Mix:
    """
    The best mix for the needs from the models' free stock, which all needs share.

    Where stock is short the mix still holds what there is, and ``short`` says what is missing: as little as can be
    over all, then as little as can be for the first need, the second and so on.

    :param closed_form: answer simple cases by arithmetic; False asks the solver even there (the answer is the same).
    :raises ValueError: if a model is given twice, or one kind is wanted by two capacities.
    """
    if len({model.model for model in catalogue}) != len(catalogue):
        raise ValueError("A model stands twice in the catalogue; give each model once, with all its free units.")
    asked = dict.fromkeys((need.kind, need.capacity) for need in needs)
    if len({kind for kind, _ in asked}) != len(asked):
        raise ValueError("One kind is wanted by two different capacities; measure each kind by one.")
    counts: dict[tuple[int, str], int] = {}
    proven = True
    for kind, capacity in asked:
        rows = [i for i, need in enumerate(needs) if (need.kind, need.capacity) == (kind, capacity)]
        models = sorted(
            (m for m in catalogue if m.kind == kind and m.free > 0 and m.capacity(capacity) > 0),
            key=lambda m: m.model,
        )
        cover = _cover([needs[i] for i in rows], models, capacity, closed_form=closed_form)
        proven = proven and cover.proven
        for row, taken in zip(rows, cover.counts, strict=True):
            for model, count in zip(models, taken, strict=True):
                counts[row, model.model] = count
    by_name = {model.model: model for model in catalogue}
    picks = [
        Pick(needs[row], name, count)
        for (row, name), count in sorted(counts.items(), key=lambda item: item[0])
        if count > 0
    ]
    short = []
    for row, need in enumerate(needs):
        found = sum(
            (n * by_name[name].capacity(need.capacity) for (at, name), n in counts.items() if at == row), Fraction(0)
        )
        if found < need.wanted:
            short.append(ShortOf(need, found))
    return Mix(tuple(picks), tuple(short), proven)


def _cover(
    needs: Sequence[Need], models: Sequence[CatalogueModel], capacity: Capacity | None, *, closed_form: bool
) -> Cover:
    each = [model.capacity(capacity) for model in models]
    scale = math.lcm(1, *(x.denominator for x in (*each, *(need.wanted for need in needs))))
    amps_scale = math.lcm(1, *(model.running_a.denominator for model in models))
    stock = tuple(
        Stock(int(cap * scale), int(model.running_a * amps_scale), model.free)
        for cap, model in zip(each, models, strict=True)
    )
    wanted = tuple(int(need.wanted * scale) for need in needs)
    simple = cover_solver.by_arithmetic(wanted, stock) if closed_form else None
    return simple if simple is not None else cover_solver.by_solver(wanted, stock)
