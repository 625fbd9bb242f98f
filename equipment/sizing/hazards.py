"""Cautions and refusals about the site itself: lead, asbestos, sewage, electricity, ceilings, gas and the rest."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from equipment.sizing.loss import Loss, Room
from equipment.sizing.safety import safety
from equipment.sizing.wording import plain
from equipment.sizing.working import Working

SUSPECT_MATERIALS = ("drywall", "plaster", "sheet_vinyl", "vinyl_tile", "ceramic_tile", "insulation")


def warn_of_site(loss: Loss, category: int, *, wet: bool, working: Working) -> None:
    """Everything a lead should have in mind before anyone touches anything."""
    if wet:
        for code in ("estimate", "electricity", "gfci", "gas"):
            working.caution(code, "chambers")
    if category == 3:
        working.caution("sewage", "category")
    if category == 3 or loss.mould_sqft:
        where = "category" if category == 3 else "mould_sqft"
        working.caution("respirators", where)
        working.caution("hvac_off", where)
    _lead(loss, working)
    _asbestos(loss, working)
    _mould(loss.mould_sqft, working)
    _carpet(loss, category, working)
    for where, room in _rooms(loss):
        if room.wet_ceiling_sqft:
            working.caution("ceiling", f"{where}.wet_ceiling_sqft")
    for index, chamber in enumerate(loss.chambers):
        if chamber.crawl_space:
            working.caution("confined_space", f"chambers[{index}].crawl_space")
            working.caution("crawl_space", f"chambers[{index}].crawl_space")
    _generator(loss.generator_distance_ft, working)


def _rooms(loss: Loss) -> Iterator[tuple[str, Room]]:
    for index, chamber in enumerate(loss.chambers):
        for number, room in enumerate(chamber.rooms):
            yield f"chambers[{index}].rooms[{number}]", room


def _built(year: int | None) -> str:
    return "Year of building unknown" if year is None else f"Built {year}"


def _lead(loss: Loss, working: Working) -> None:
    by = safety().thresholds
    year, limit = loss.year_built, by.lead_room_sqft.value
    if year is not None and year >= by.lead_before_year.value:
        return
    working.caution("lead_paint", "year_built", built=_built(year), limit=plain(limit))
    for where, room in _rooms(loss):
        area = room.painted_sqft_disturbed
        if area <= limit:
            continue
        at = f"{where}.painted_sqft_disturbed"
        if loss.emergency:
            working.caution("lead_emergency", at, built=_built(year), area=plain(area))
        elif year is not None:
            working.refuse("lead_safe_work", at, year=str(year), area=plain(area), limit=plain(limit))


def _asbestos(loss: Loss, working: Working) -> None:
    by = safety().thresholds
    year, units = loss.year_built, loss.dwelling_units
    if year is None or year <= by.asbestos_until_year.value:
        found = {material.material for _, room in _rooms(loss) for material in room.materials}
        suspect = ", ".join(name.replace("_", " ") for name in SUSPECT_MATERIALS if name in found)
        told = f"told here: {suspect}" if suspect else "no material told yet"
        working.caution("asbestos", "year_built", built=_built(year), suspect=told)
    disturbed = sum((room.painted_sqft_disturbed for _, room in _rooms(loss)), Fraction(0))
    exempt = by.asbestos_exempt_units.value
    if disturbed and (units is None or units > exempt):
        limit = plain(by.asbestos_notice_sqft.value)
        working.caution("asbestos_inspection", "dwelling_units", units=plain(exempt), limit=f"{limit} sq ft")


def _mould(area: Fraction, working: Working) -> None:
    if not area:
        return
    by = safety().thresholds
    small, large = by.mould_small_sqft.value, by.mould_large_sqft.value
    if area < small:
        size = f"under {plain(small)}, a small area"
    elif area <= large:
        size = f"{plain(small)} to {plain(large)}, limited containment"
    else:
        size = f"over {plain(large)}, full containment with an airlock"
    working.caution("mould", "mould_sqft", area=plain(area), size=size)
    if area > small:
        working.caution("mould_licence", "mould_sqft", limit=plain(small))


def _carpet(loss: Loss, category: int, working: Working) -> None:
    found = {material.material for _, room in _rooms(loss) for material in room.materials if material.area_sqft}
    if category == 2 and "cushion" in found:
        fate = "wet cushion is replaced, carpet over it may be kept and cleaned"
    elif category == 3 and found & {"carpet", "cushion"}:
        fate = "wet carpet and cushion are both replaced"
    else:
        return
    working.caution("carpet_and_cushion", "chambers", category=str(category), fate=fate)


def _generator(distance: Fraction | None, working: Working) -> None:
    if distance is None:
        return
    limit = safety().thresholds.generator_ft.value
    if distance < limit:
        working.refuse("generator_too_close", "generator_distance_ft", distance=plain(distance), limit=plain(limit))
    working.caution("generator", "generator_distance_ft", limit=plain(limit))
