"""
Units packed onto branch circuits: as many units as possible, then the most amps, by counts per model.

Amps are exact fractions outside and whole numbers inside: 12 A is full at 12.0 A, not at 11.999.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from equipment.sizing import circuit_solver
from equipment.sizing.circuit_solver import Branches, Kinds

VOLTS = 120
CONTINUOUS_SHARE = Fraction(4, 5)
MORE_BREAKERS_A = (15, 20)
"""The usual breakers in which what is missing is counted; each carries four fifths for hours (NFPA 70, 210.20)."""


@dataclass(frozen=True, slots=True)
class Load:
    """So many units of a model, each drawing so many amps while it runs."""

    model: str
    amps: Fraction
    count: int

    def __post_init__(self) -> None:
        if self.amps < 0 or self.count < 0:
            raise ValueError(f"{self.model}: {self.count} units of {self.amps} A; give zero or more of each.")


@dataclass(frozen=True, slots=True)
class Circuit:
    """One 120 V branch circuit and the amps it may carry for hours; nothing fits where the limit is below zero."""

    limit_a: Fraction


@dataclass(frozen=True, slots=True)
class MoreCircuits:
    """Further circuits of one breaker size that would carry all units, with all of them placed afresh."""

    breaker_a: int
    count: int
    least: int
    """No fewer can do; equal to ``count`` where that is proven."""


@dataclass(frozen=True, slots=True)
class Packing:
    """Where the units stand; models with a count of nothing are left out of every mapping."""

    total_a: Fraction
    circuits: tuple[Mapping[str, int], ...]
    unplaced: Mapping[str, int]
    too_large: tuple[str, ...]
    """Models of which one unit alone exceeds every circuit given."""
    proven: bool
    """No packing places more units, and none of as many units places more amps."""
    units_from_best: int
    """At most so many more units could be placed; 0 where proven."""
    circuits_from_best: int
    """The best packing would spare at most so many of the further circuits; 0 where proven."""
    more: tuple[MoreCircuits, ...]
    """What it takes to place the rest, by breaker size; a size that cannot carry some unit is left out."""
    generator_kw: Fraction
    """Running kW of what is unplaced, at 120 V; motors ask for more while they start."""


def warm() -> None:
    """Load the solver beforehand: its import takes most of a second."""
    circuit_solver.warm()


def pack(units: Sequence[Load], circuits: Sequence[Circuit]) -> Packing:
    """
    Place units on circuits: as many as possible, then the most amps.

    Without circuits nothing is placed. Among models that draw the same, names decide: the last are left over first.
    """
    loads = _merged(units)
    total = sum((load.amps * load.count for load in loads), Fraction(0))
    scale = math.lcm(*(x.denominator for x in (*(u.amps for u in loads), *(c.limit_a for c in circuits))), 5)
    limits = [max(0, int(circuit.limit_a * scale)) for circuit in circuits]
    running = [load for load in loads if load.amps > 0]
    names: dict[int, list[Load]] = {}
    for load in running:
        names.setdefault(int(load.amps * scale), []).append(load)
    kinds: Kinds = tuple((amps, sum(load.count for load in names[amps])) for amps in sorted(names, reverse=True))

    solved = circuit_solver.place(kinds, Branches(tuple(limits)))
    placed = _named(solved.circuits, kinds, names)
    if placed:
        placed[0].update({load.model: load.count for load in loads if load.amps == 0 and load.count})
    unplaced: dict[str, int] = {}
    for load in loads:
        left = load.count - sum(circuit.get(load.model, 0) for circuit in placed)
        if left:
            unplaced[load.model] = left
    more = _more(kinds, limits, scale) if unplaced else ()
    return Packing(
        total_a=total,
        circuits=tuple(dict(sorted(circuit.items())) for circuit in placed),
        unplaced=unplaced,
        too_large=tuple(u.model for u in loads if u.count and circuits and int(u.amps * scale) > max(limits)),
        proven=solved.proven,
        units_from_best=solved.units_bound - solved.units,
        circuits_from_best=max((m.count - m.least for m in more), default=0),
        more=more,
        generator_kw=sum((u.amps * unplaced.get(u.model, 0) for u in loads), Fraction(0)) * VOLTS / 1000,
    )


def _merged(units: Sequence[Load]) -> list[Load]:
    """One load per model, by name."""
    counts: dict[str, int] = {}
    amps: dict[str, Fraction] = {}
    for load in units:
        if amps.setdefault(load.model, load.amps) != load.amps:
            raise ValueError(
                f"{load.model} is given with {amps[load.model]} A and with {load.amps} A; give one figure."
            )
        counts[load.model] = counts.get(load.model, 0) + load.count
    return [Load(model, amps[model], counts[model]) for model in sorted(counts)]


def _named(
    circuits: Sequence[Mapping[int, int]], kinds: Kinds, names: Mapping[int, Sequence[Load]]
) -> list[dict[str, int]]:
    """Amps given back their model names: the first names are placed first, on the first circuits."""
    placed: list[dict[str, int]] = [{} for _ in circuits]
    for amps, _ in kinds:
        left = {load.model: load.count for load in names[amps]}
        for index, circuit in enumerate(circuits):
            wanted = circuit.get(amps, 0)
            for model, count in left.items():
                take = min(wanted, count)
                if take:
                    placed[index][model] = take
                    left[model] = count - take
                    wanted -= take
    return placed


def _more(kinds: Kinds, limits: Sequence[int], scale: int) -> tuple[MoreCircuits, ...]:
    found = []
    for breaker_a in MORE_BREAKERS_A:
        limit = int(breaker_a * CONTINUOUS_SHARE * scale)
        if all(amps <= max((limit, *limits)) for amps, _ in kinds):
            wanted = circuit_solver.further(kinds, Branches(tuple(limits)), limit)
            if wanted is not None:
                found.append(MoreCircuits(breaker_a, *wanted))
    return tuple(found)
