"""Amps of everything that runs, and its place on the circuits given."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from equipment.sizing.catalogue import amps_by_model
from equipment.sizing.loss import Also, CatalogueEntry, Circuit
from equipment.sizing.power import Circuit as Branch
from equipment.sizing.power import Load, Packing, pack
from equipment.sizing.report import CircuitLoad, MixRow, Power
from equipment.sizing.rule_set import RuleSet
from equipment.sizing.wording import counted, plain
from equipment.sizing.working import Working

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
    packing = pack(
        [Load(model, amps[model], count) for model, count in units.items()],
        [Branch(limit) for limit in limits],
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
    for index, entry in enumerate(models):
        if entry.model in packing.too_large:
            working.refuse(
                "load_over_circuit",
                f"catalogue[{index}].running_a",
                model=entry.model,
                amps=plain(entry.running_a),
                limit=plain(max(Fraction(0), *limits)),
            )
    _say_unplaced(packing, amps, working)
    return Power(total, tuple(loads), dict(packing.unplaced), packing.proven)


def _amps_text(units: Mapping[str, int], amps: Mapping[str, Fraction]) -> str:
    return " + ".join(f"{count} x {plain(amps[model])}" for model, count in units.items()) or "0"


def _say_unplaced(packing: Packing, amps: Mapping[str, Fraction], working: Working) -> None:
    for model, count in packing.unplaced.items():
        working.row(
            f"power.unplaced.{model}", f"{count} x {plain(amps[model])} = {plain(count * amps[model])} A", PLACING
        )
    if packing.unplaced:
        ways = [f"{counted(more.count, 'more circuit')} of {more.breaker_a} A" for more in packing.more]
        ways.append(f"a generator of at least {plain(packing.generator_kw)} kW running")
        working.caution(
            "circuits_short",
            "circuits",
            units=", ".join(f"{count} x {model}" for model, count in packing.unplaced.items()),
            ways=", or ".join(ways),
        )
    if not packing.proven:
        working.caution(
            "packing_unproven",
            "power",
            units=counted(packing.units_from_best, "unit"),
            circuits=counted(packing.circuits_from_best, "circuit"),
        )
