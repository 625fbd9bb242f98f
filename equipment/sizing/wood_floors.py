"""Floor-mat kits for wet wood floors."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import ceil

from equipment.sizing.catalogue import is_reference
from equipment.sizing.loss import CatalogueEntry, Loss
from equipment.sizing.report import WoodFloors
from equipment.sizing.rule_set import RuleSet
from equipment.sizing.wording import plain
from equipment.sizing.working import Working


def size_wood_floors(
    loss: Loss, category: int, models: Sequence[CatalogueEntry], rules: RuleSet, working: Working
) -> WoodFloors:
    """Wet wood floor of the whole loss, and the kits that cover it."""
    areas = [room.wet_wood_floor_sqft for chamber in loss.chambers for room in chamber.rooms]
    wet = sum(areas, Fraction(0))
    told = " + ".join(plain(area) for area in areas if area) or "0"
    working.row("wood_floors.wet_sqft", f"rooms: {told} = {plain(wet)}")
    own = () if is_reference(models) else models
    entries = [entry for entry in own if entry.kind == "floor_mat_kit" and entry.covers_sqft]
    largest = max(entries, key=lambda entry: entry.covers_sqft or Fraction(0), default=None)
    if largest is not None and largest.covers_sqft:
        per_kit, source = largest.covers_sqft, f"data plate of {largest.model}"
    else:
        per_kit, source = rules.wood_floors.sqft_per_kit.value, rules.wood_floors.sqft_per_kit.source
    kits = ceil(wet / per_kit)
    working.row("wood_floors.kits", f"{plain(wet)} / {plain(per_kit)} -> {kits}", source)
    if wet and category == 3:
        working.caution("wood_floor_category_3", "wood_floors")
    return WoodFloors(wet_sqft=wet, kits=kits)
