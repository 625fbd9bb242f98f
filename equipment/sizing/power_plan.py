"""Amps of everything that runs, and its place on the circuits given."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from equipment.sizing.catalogue import amps_by_model
from equipment.sizing.loss import Also, CatalogueEntry, Circuit
from equipment.sizing.power import Circuit as Branch
from equipment.sizing.power import Load, pack
from equipment.sizing.report import CircuitLoad, MixRow, Power
from equipment.sizing.rule_set import RuleSet
from equipment.sizing.wording import counted, plain
from equipment.sizing.working import Working

VOLTS = 120
# What is missing is counted in the usual larger branch circuit: 20 A, of which 80 % for hours.
USUAL_CIRCUIT_A = Fraction(16)
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
    share = rules.power.continuous_share
    limits = [circuit.breaker_a * share.value - circuit.reserved_a for circuit in circuits]
    for index, circuit in enumerate(circuits):
        sum_ = (
            f"{plain(share.value)} x {plain(circuit.breaker_a)} - {plain(circuit.reserved_a)} = {plain(limits[index])}"
        )
        working.row(f"power.circuits[{index}].limit_a", sum_, share.source)
    _refuse_too_large(units, models, max(limits), working)
    packing = pack(
        [Load(model, amps[model], count) for model, count in units.items()],
        [Branch(max(limit, Fraction(0))) for limit in limits],
    )
    loads: list[CircuitLoad] = []
    for index, placed in enumerate(packing.circuits):
        used = sum((amps[model] * count for model, count in placed.items()), Fraction(0))
        at = f"power.circuits[{index}]"
        working.row(f"{at}.used_a", f"{_amps_text(placed, amps)} = {plain(used)}", PLACING)
        for model, count in placed.items():
            working.row(
                f"{at}.units.{model}", f"{count} x {plain(amps[model])} = {plain(count * amps[model])} A", PLACING
            )
        loads.append(CircuitLoad(index, limits[index], used, dict(placed)))
    _say_unplaced(packing.unplaced, amps, working)
    return Power(total, tuple(loads), dict(packing.unplaced), packing.proven)


def _amps_text(units: Mapping[str, int], amps: Mapping[str, Fraction]) -> str:
    return " + ".join(f"{count} x {plain(amps[model])}" for model, count in units.items()) or "0"


def _refuse_too_large(
    units: Mapping[str, int], models: Sequence[CatalogueEntry], best: Fraction, working: Working
) -> None:
    for index, entry in enumerate(models):
        if entry.model in units and entry.running_a > best:
            working.refuse(
                "load_over_circuit",
                f"catalogue[{index}].running_a",
                model=entry.model,
                amps=plain(entry.running_a),
                limit=plain(max(best, Fraction(0))),
            )


def _say_unplaced(unplaced: Mapping[str, int], amps: Mapping[str, Fraction], working: Working) -> None:
    for model, count in unplaced.items():
        working.row(
            f"power.unplaced.{model}", f"{count} x {plain(amps[model])} = {plain(count * amps[model])} A", PLACING
        )
    if not unplaced:
        return
    more = sum((amps[model] * count for model, count in unplaced.items()), Fraction(0))
    working.caution(
        "circuits_short",
        "circuits",
        units=", ".join(f"{count} x {model}" for model, count in unplaced.items()),
        amps=plain(more),
        more=counted(_circuits_for(unplaced, amps), "circuit"),
        watts=plain(more * VOLTS),
    )


def _circuits_for(unplaced: Mapping[str, int], amps: Mapping[str, Fraction]) -> int:
    """Circuits of the usual size that hold these units, largest first; one that is too large counts alone."""
    room: list[Fraction] = []
    for model in sorted(unplaced, key=lambda each: (-amps[each], each)):
        for _ in range(unplaced[model]):
            place = next((index for index, left in enumerate(room) if left >= amps[model]), None)
            if place is None:
                room.append(USUAL_CIRCUIT_A - amps[model])
            else:
                room[place] -= amps[model]
    return len(room)
