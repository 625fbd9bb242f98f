"""Drying inside wall cavities: outlets by stud spacing, run by run, with the runs that must not be dried that way."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import ceil

from equipment.sizing.catalogue import is_reference
from equipment.sizing.loss import CatalogueEntry, Loss, WallRun
from equipment.sizing.report import CavityRun, WallCavities
from equipment.sizing.rule_set import RuleSet
from equipment.sizing.wording import plain
from equipment.sizing.working import Working

INCHES_PER_FT = 12
BY_GEOMETRY = "geometry; common practice, no source, for one outlet per stud bay"


def size_cavities(
    loss: Loss, category: int, models: Sequence[CatalogueEntry], rules: RuleSet, working: Working
) -> WallCavities:
    """Outlets of every run, rounded up per run, and the kits that all of them together take."""
    runs: list[CavityRun] = []
    for where, room, run in _runs(loss):
        refused = _refuse(run, category, where, working)
        outlets, mode = 0, None
        sum_ = "refused: 0"
        if not refused:
            mode = rules.cavities.category_1_mode if category == 1 else rules.cavities.category_2_mode
            per_bay = rules.cavities.outlets_per_bay.value
            outlets = ceil(run.length_ft * INCHES_PER_FT / run.stud_spacing_in * per_bay)
            times = "" if per_bay == 1 else f" x {plain(per_bay)}"
            sum_ = f"{plain(run.length_ft)} x 12 / {plain(run.stud_spacing_in)}{times} -> {outlets}"
        working.row(f"wall_cavities.runs[{len(runs)}].outlets", sum_, BY_GEOMETRY)
        runs.append(CavityRun(room, run.length_ft, outlets, mode.value if mode else None))
    if any(run.mode == "negative" for run in runs):
        working.caution("cavity_filter_discharge", "chambers")
    if loss.mould_sqft and any(run.mode for run in runs):
        working.caution("cavity_mould", "mould_sqft")
    total = sum(run.outlets for run in runs)
    working.row("wall_cavities.outlets", f"runs: {' + '.join(str(run.outlets) for run in runs) or '0'} = {total}")
    return WallCavities(total, _kits(total, models, rules, working), tuple(runs))


def _runs(loss: Loss) -> Iterator[tuple[str, str, WallRun]]:
    for number, chamber in enumerate(loss.chambers):
        for place, room in enumerate(chamber.rooms):
            for index, run in enumerate(room.wall_runs):
                yield f"chambers[{number}].rooms[{place}].wall_runs[{index}]", room.name, run


def _refuse(run: WallRun, category: int, where: str, working: Working) -> bool:
    reasons = {
        "cavity_category_3": category == 3,
        "cavity_insulation_wet": run.insulation_wet,
        "cavity_vapor_barrier": run.vapor_barrier,
        "cavity_fire_rated": run.fire_rated,
    }
    for code, holds in reasons.items():
        if holds:
            working.refuse(code, where)
    return any(reasons.values())


def _kits(outlets: int, models: Sequence[CatalogueEntry], rules: RuleSet, working: Working) -> int:
    # Kits are chosen with as few units as may be, so the model with the most outlets sets the count.
    entries = [] if is_reference(models) else [e for e in models if e.kind == "cavity_kit" and e.outlets]
    largest = max(entries, key=lambda entry: entry.outlets or 0, default=None)
    if largest is not None and largest.outlets:
        per_kit, source = largest.outlets, f"data plate of {largest.model}"
    else:
        per_kit, source = int(rules.cavities.outlets_per_kit.value), rules.cavities.outlets_per_kit.source
    kits = -(-outlets // per_kit)
    working.row("wall_cavities.kits", f"{outlets} / {per_kit} -> {kits}", source)
    return kits
