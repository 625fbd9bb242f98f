"""Expected drying days of a chamber, as a range that names the slowest material."""

from __future__ import annotations

from equipment.sizing.loss import Chamber, Room, RoomMaterial
from equipment.sizing.report import DryingDays
from equipment.sizing.rule_set import RuleSet
from equipment.sizing.wording import plain
from equipment.sizing.working import OWN_ARITHMETIC, Working
from jobs.science.drying_days import WetMaterial, drying_days

BOARD = {"drywall", "plaster"}


def expected_days(chamber: Chamber, *, dry: bool, rules: RuleSet, where: str, working: Working) -> DryingDays:
    """Low, likely and high days; a general range when a wet chamber names no material."""
    at = f"{where}.drying_days"
    told = [
        WetMaterial(material.material, material.covering, _behind_barrier(material, room))
        for room in chamber.rooms
        for material in room.materials
        if material.area_sqft
    ]
    found = None if dry else drying_days(told)
    if dry:
        days, why, source = DryingDays(0, 0, 0, None), "nothing is wet", OWN_ARITHMETIC
    elif found is not None:
        days = DryingDays(found.low, found.likely, found.high, found.slowest)
        why, source = found.why, found.source
    else:
        by = rules.drying
        low, likely, high = (float(each.value) for each in (by.low_days, by.likely_days, by.high_days))
        days, why, source = DryingDays(low, likely, high, None), "no material told", by.likely_days.source
    for name in ("low", "likely", "high"):
        working.row(f"{at}.{name}", f"{why} -> {plain(getattr(days, name))}", source)
    return days


def _behind_barrier(material: RoomMaterial, room: Room) -> bool:
    return material.material in BOARD and any(run.vapor_barrier for run in room.wall_runs)
