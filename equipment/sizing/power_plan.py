"""Amps of everything that runs, and its place on the circuits given."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from math import ceil

from equipment.sizing.catalogue import amps_by_model, is_reference
from equipment.sizing.grid import down, up
from equipment.sizing.loss import Also, CatalogueEntry, Circuit
from equipment.sizing.power import VOLTS, Load, Packing, pack
from equipment.sizing.power import Circuit as Branch
from equipment.sizing.report import CircuitLoad, MixRow, Power
from equipment.sizing.rule_set import RuleSet
from equipment.sizing.wording import counted, plain
from equipment.sizing.working import Working

# Beyond this the solver is asked only about units that could have a place.
MOST_UNITS_ASKED = 400
# What a 20 A circuit carries for hours.
USUAL_LIMIT_A = Fraction(16)
PLACING = "arithmetic: as many units as possible, then most amps; common practice, no source"
NO_POWER = Power(Fraction(0), (), {}, True)


def plan_power(
    mix: Sequence[MixRow],
    also: Sequence[Also],
    models: Sequence[CatalogueEntry],
    circuits: Sequence[Circuit],
    rules: RuleSet,
    working: Working,
) -> Power:
    """Everything of the mix, and what the lead adds, on circuits that carry it for hours."""
    amps = amps_by_model(models)
    units: dict[str, int] = {}
    for model, count in (*((row.model, row.count) for row in mix), *((extra.model, extra.count) for extra in also)):
        if count:
            units[model] = units.get(model, 0) + count
    total = sum((amps[model] * count for model, count in units.items()), Fraction(0))
    working.row("power.total_a", f"{_amps_text(units, amps)} = {plain(total)}", "running amps of the catalogue")
    if not circuits:
        working.caution("circuits_unknown", "circuits", amps=plain(total))
        return Power(total, (), {}, True)
    limits = _limits(circuits, rules, working)
    drawn = {model: up(amps[model]) for model in units}
    asked = _askable(units, drawn, limits)
    packing = pack(
        [Load(model, drawn[model], count) for model, count in asked.items()],
        [Branch(down(limit)) for limit in limits],
    )
    unplaced = {
        model: left for model, count in units.items() if (left := count - asked[model] + packing.unplaced.get(model, 0))
    }
    loads = _loads(packing, limits, amps, working)
    _refuse_too_large(packing, models, max(Fraction(0), *limits), working)
    _say_unplaced(unplaced, packing, amps, complete=asked == units, working=working)
    return Power(total, loads, unplaced, packing.proven)


def _limits(circuits: Sequence[Circuit], rules: RuleSet, working: Working) -> list[Fraction]:
    """What each circuit carries for hours; below zero where more is reserved than it may carry."""
    share = rules.power.continuous_share
    limits = [circuit.breaker_a * share.value - circuit.reserved_a for circuit in circuits]
    for index, (circuit, limit) in enumerate(zip(circuits, limits, strict=True)):
        sum_ = f"{plain(share.value)} x {plain(circuit.breaker_a)} - {plain(circuit.reserved_a)} = {plain(limit)}"
        working.row(f"power.circuits[{index}].limit_a", sum_, share.source)
    return limits


def _loads(
    packing: Packing, limits: Sequence[Fraction], amps: Mapping[str, Fraction], working: Working
) -> tuple[CircuitLoad, ...]:
    loads: list[CircuitLoad] = []
    for index, placed in enumerate(packing.circuits):
        used = sum((amps[model] * count for model, count in placed.items()), Fraction(0))
        at = f"power.circuits[{index}]"
        working.row(f"{at}.used_a", f"{_amps_text(placed, amps)} = {plain(used)}", PLACING)
        for model, count in placed.items():
            working.row(f"{at}.units.{model}", _model_text(model, count, amps), PLACING)
        loads.append(CircuitLoad(index, limits[index], used, dict(placed)))
    return tuple(loads)


def _refuse_too_large(packing: Packing, models: Sequence[CatalogueEntry], best: Fraction, working: Working) -> None:
    given = not is_reference(models)
    for index, entry in enumerate(models):
        if entry.model in packing.too_large:
            where = f"catalogue[{index}].running_a" if given else "circuits"
            working.refuse(
                "load_over_circuit", where, model=entry.model, amps=plain(entry.running_a), limit=plain(best)
            )


def _model_text(model: str, count: int, amps: Mapping[str, Fraction]) -> str:
    return f"{count} x {plain(amps[model])} = {plain(count * amps[model])} A"


def _amps_text(units: Mapping[str, int], amps: Mapping[str, Fraction]) -> str:
    return " + ".join(f"{count} x {plain(amps[model])}" for model, count in units.items()) or "0"


def _askable(units: Mapping[str, int], amps: Mapping[str, Fraction], limits: Sequence[Fraction]) -> Mapping[str, int]:
    """
    The units worth asking the solver about.

    For thousands of them, no more of a model than the circuits could carry if it had them to itself: the others have no
    place in any packing.
    """
    if sum(units.values()) <= MOST_UNITS_ASKED:
        return units
    asked = {}
    for model, count in units.items():
        places = [max(limit, Fraction(0)) // amps[model] for limit in limits] if amps[model] else [count]
        # One at least, so that a load over every circuit is still named.
        asked[model] = min(count, max(1, int(sum(places))))
    return asked


def _say_unplaced(
    unplaced: Mapping[str, int],
    packing: Packing,
    amps: Mapping[str, Fraction],
    *,
    complete: bool,
    working: Working,
) -> None:
    left = Fraction(0)
    for model, count in unplaced.items():
        left += count * amps[model]
        working.row(f"power.unplaced.{model}", _model_text(model, count, amps), PLACING)
    if unplaced:
        ways = [f"{counted(more.count, 'more circuit')} of {more.breaker_a} A" for more in packing.more]
        if not complete:
            ways = [f"at least {counted(ceil(left / USUAL_LIMIT_A), 'more circuit')} of 20 A"]
        ways.append(f"a generator of at least {plain(left * VOLTS / 1000)} kW running")
        working.caution(
            "circuits_short",
            "circuits",
            units=", ".join(f"{count} x {model}" for model, count in unplaced.items()),
            ways=", or ".join(ways),
        )
    if not packing.proven:
        working.caution(
            "packing_unproven",
            "power",
            units=counted(packing.units_from_best, "unit"),
            circuits=counted(packing.circuits_from_best, "circuit"),
        )
