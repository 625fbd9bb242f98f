"""Air filtration for category 3 and mold work: cfm by air changes over all affected chambers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from equipment.sizing.report import AirFiltration
from equipment.sizing.rule_set import RuleSet
from equipment.sizing.wording import plain
from equipment.sizing.working import Working


@dataclass(frozen=True)
class ChamberAir:
    """Air of a chamber, cu ft, and whether anything in it is wet."""

    volume_cuft: Fraction
    dry: bool


def size_filtration(
    chambers: Sequence[ChamberAir], category: int, mould_sqft: Fraction, rules: RuleSet, working: Working
) -> AirFiltration | None:
    """Null for clean water without mold. Mold in an otherwise dry building: all chambers count."""
    if category != 3 and not mould_sqft:
        return None
    affected = [each.volume_cuft for each in chambers if not each.dry]
    if not affected and mould_sqft:
        affected = [each.volume_cuft for each in chambers]
    by = rules.air_filtration
    changes = by.changes_per_hour.value
    volume = sum(affected, Fraction(0))
    cfm = volume * changes / 60
    together = " + ".join(plain(each) for each in affected) or "0"
    if len(affected) > 1:
        together = f"({together})"
    working.row("air_filtration.cfm", f"{together} x {plain(changes)} / 60 = {plain(cfm)}", by.changes_per_hour.source)
    working.row(
        "air_filtration.changes_per_hour",
        f"planned {plain(changes)}, never under {plain(by.least_changes_per_hour.value)}",
        by.changes_per_hour.source,
    )
    reasons = (["category 3 water"] if category == 3 else []) + (["mold"] if mould_sqft else [])
    return AirFiltration(cfm=cfm, changes_per_hour=changes, why=" and ".join(reasons))
