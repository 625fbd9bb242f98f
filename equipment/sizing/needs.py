"""From the sized parts of a loss to the equipment wanted, chamber by chamber, and to the report's mix."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from equipment.sizing.grid import down, up
from equipment.sizing.loss import CatalogueEntry
from equipment.sizing.mix import CatalogueModel, Need, solve_mix
from equipment.sizing.report import AirFiltration, ChamberReport, MixRow, Short, WallCavities, WoodFloors
from equipment.sizing.wording import counted, plain
from equipment.sizing.working import Working

CHOICE = "arithmetic: fewest units, then least amps, then least surplus, then model name; common practice, no source"
UNITS = {
    "rated_pints_per_day": "pints/day",
    "process_cfm": "cfm",
    "airflow_cfm": "cfm",
    "outlets": "outlets",
    "covers_sqft": "sq ft",
    None: "units",
}


def wanted(
    chambers: Sequence[ChamberReport],
    filtration: AirFiltration | None,
    cavities: WallCavities,
    floors: WoodFloors,
) -> tuple[Need, ...]:
    """Needs above nothing; a machine stands in one chamber, except what serves the whole loss."""
    needs: list[Need] = []
    for chamber in chambers:
        asked = chamber.dehumidification
        if asked is not None and asked.pints_per_day:
            needs.append(
                Need(chamber.name, asked.kind, "pints_per_day", up(asked.pints_per_day), "rated_pints_per_day")
            )
        if asked is not None and asked.process_cfm:
            needs.append(Need(chamber.name, asked.kind, "cfm", up(asked.process_cfm), "process_cfm"))
        if chamber.air_movers.planned:
            needs.append(Need(chamber.name, "air_mover", "count", Fraction(chamber.air_movers.planned), None))
    if filtration is not None and filtration.cfm:
        needs.append(Need(None, "air_scrubber", "cfm", up(filtration.cfm), "airflow_cfm"))
    if cavities.kits:
        needs.append(Need(None, "cavity_kit", "count", Fraction(cavities.outlets), "outlets"))
    if floors.kits:
        needs.append(Need(None, "floor_mat_kit", "count", up(floors.wet_sqft), "covers_sqft"))
    return tuple(needs)


def choose(
    needs: Sequence[Need], kits: dict[str, int], models: Sequence[CatalogueEntry], working: Working
) -> tuple[tuple[MixRow, ...], tuple[Short, ...]]:
    """
    The models that meet the needs, and what is short of them.

    Kits are chosen by outlets or square feet and reported short by the piece: ``kits`` says how many are wanted.
    """
    entries = {entry.model: entry for entry in models}
    found = solve_mix(needs, [_as_model(entry) for entry in models])
    rows: list[MixRow] = []
    for pick in found.picks:
        each = _capacity(entries[pick.model], pick.need)
        unit = UNITS[pick.need.capacity]
        sum_ = f"{pick.count} x {plain(each)} = {plain(pick.count * each)} {unit} of {plain(pick.need.wanted)} wanted"
        working.row(f"mix[{len(rows)}].count", sum_, CHOICE)
        rows.append(MixRow(pick.need.chamber, pick.model, pick.need.kind, pick.count, sum_))
    shorts: list[Short] = []
    for short in found.short:
        need, at = short.need, f"short[{len(shorts)}]"
        want, got = need.wanted, short.found
        if need.kind in kits:
            want = Fraction(kits[need.kind])
            got = Fraction(sum(row.count for row in rows if row.kind == need.kind))
        working.row(f"{at}.wanted", f"need of {need.kind}: {plain(want)}", CHOICE)
        working.row(f"{at}.found", f"all that is free for it: {plain(got)}", CHOICE)
        shorts.append(Short(need.chamber, need.kind, need.unit, want, got, _why_short(need, models)))
    if shorts:
        working.caution("equipment_short", "catalogue")
    if not found.proven:
        working.caution("mix_unproven", "mix")
    return tuple(rows), tuple(shorts)


def _as_model(entry: CatalogueEntry) -> CatalogueModel:
    return CatalogueModel(
        model=entry.model,
        kind=entry.kind,
        running_a=up(entry.running_a),
        free=entry.free,
        rated_pints_per_day=_floored(entry.rated_pints_per_day),
        process_cfm=_floored(entry.process_cfm),
        airflow_cfm=_floored(entry.airflow_cfm),
        outlets=entry.outlets,
        covers_sqft=_floored(entry.covers_sqft),
    )


def _floored(capacity: Fraction | None) -> Fraction | None:
    return None if capacity is None else down(capacity)


def _capacity(entry: CatalogueEntry, need: Need) -> Fraction:
    return Fraction(1) if need.capacity is None else Fraction(getattr(entry, need.capacity))


def _why_short(need: Need, entries: Sequence[CatalogueEntry]) -> str:
    free = sum(entry.free for entry in entries if entry.kind == need.kind)
    if not free:
        return f"no {need.kind} is free, and another kind never stands in"
    return f"only {counted(free, 'unit')} of kind {need.kind} free for the whole loss"
