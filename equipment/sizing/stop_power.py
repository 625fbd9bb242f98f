"""
The power plan of a stop: which numbered unit stands on which circuit, and what each circuit may carry for hours.

The lead decides where a unit is plugged in; the packing of the sizing only suggests. Nothing over the line is refused:
it is said, by how much.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from equipment.sizing.power import Circuit, Load, pack


@dataclass(frozen=True, slots=True)
class GivenCircuit:
    """A 120 V branch circuit as the lead found it, in amps; `reserved_a` is what others draw on it."""

    name: str
    breaker_a: Fraction
    reserved_a: Fraction = Fraction(0)

    def __post_init__(self) -> None:
        if self.breaker_a <= 0 or not 0 <= self.reserved_a <= self.breaker_a:
            raise ValueError(f"{self.name}: a breaker of some amps, of which at most all are in use")

    def limit_a(self, share: Fraction) -> Fraction:
        """What may run on it for hours: the share of the breaker, less what is in use."""
        return max(Fraction(0), self.breaker_a * share - self.reserved_a)


@dataclass(frozen=True, slots=True)
class RunningUnit:
    """A numbered unit that stands there, and the amps it draws while it runs."""

    number: str
    model: str
    amps: Fraction


@dataclass(frozen=True, slots=True)
class CircuitUse:
    """What stands on one circuit."""

    name: str
    breaker_a: Fraction
    limit_a: Fraction
    used_a: Fraction
    numbers: tuple[str, ...]

    @property
    def over_a(self) -> Fraction:
        """By how many amps it is over the line; zero where it is not."""
        return max(Fraction(0), self.used_a - self.limit_a)


@dataclass(frozen=True, slots=True)
class PowerCheck:
    """All circuits, and the units that stand on none."""

    circuits: tuple[CircuitUse, ...]
    without: tuple[str, ...]

    @property
    def over(self) -> tuple[CircuitUse, ...]:
        return tuple(use for use in self.circuits if use.over_a > 0)


def check(
    units: Sequence[RunningUnit], circuits: Sequence[GivenCircuit], places: Mapping[str, int], share: Fraction
) -> PowerCheck:
    """
    What each circuit carries with the units placed as `places` says: number of the unit to index of the circuit.

    :raises ValueError: if a place is no circuit.
    """
    on: list[list[RunningUnit]] = [[] for _ in circuits]
    without = []
    for unit in units:
        index = places.get(unit.number)
        if index is None:
            without.append(unit.number)
        elif 0 <= index < len(circuits):
            on[index].append(unit)
        else:
            raise ValueError(f"{unit.number}: there is no circuit {index + 1}")
    uses = (
        CircuitUse(
            circuit.name,
            circuit.breaker_a,
            circuit.limit_a(share),
            sum((unit.amps for unit in there), Fraction(0)),
            tuple(unit.number for unit in there),
        )
        for circuit, there in zip(circuits, on, strict=True)
    )
    return PowerCheck(tuple(uses), tuple(without))


def suggest(units: Sequence[RunningUnit], circuits: Sequence[GivenCircuit], share: Fraction) -> dict[str, int]:
    """Number of the unit to index of the circuit: as many units as possible within the lines, then the most amps."""
    waiting: dict[str, list[str]] = {}
    amps: dict[str, Fraction] = {}
    for unit in units:
        # Two data plates of one model would be two loads.
        kind = f"{unit.model} {unit.amps}"
        waiting.setdefault(kind, []).append(unit.number)
        amps[kind] = unit.amps
    loads = [Load(kind, amps[kind], len(numbers)) for kind, numbers in waiting.items()]
    packing = pack(loads, [Circuit(circuit.limit_a(share)) for circuit in circuits])
    places: dict[str, int] = {}
    for index, counts in enumerate(packing.circuits):
        for kind, count in counts.items():
            places.update(dict.fromkeys((waiting[kind].pop(0) for _ in range(count)), index))
    return places
