# 40 CFR 745 subpart E, 29 CFR 1926.1101, 40 CFR 61.145, EPA 402-K-01-001 (2008), CPSC generator alert.
from __future__ import annotations

from typing import Any

import pytest

from equipment.sizing.port import size_document
from tests.equipment.sizing.losses import chamber, codes, loss, room, wet_room


def notices(**changes: Any) -> tuple[set[str], set[str]]:
    painted = changes.pop("painted", 0)
    report = size_document(loss(chamber(wet_room(painted_sqft_disturbed=painted)), **changes)).as_document()
    return codes(report["refusals"]), codes(report["cautions"])


def test_lead_stops_paint_work_in_an_old_house() -> None:
    refusals, cautions = notices(year_built=1965, painted=10, emergency=False)
    assert "lead_safe_work" in refusals
    assert "lead_paint" in cautions


@pytest.mark.parametrize(("year", "painted"), [(1985, 10), (1978, 10), (1965, 5), (1965, 6), (None, 10)])
def test_lead_does_not_stop_newer_houses_small_areas_or_unknown_years(year: int | None, painted: int) -> None:
    refusals, cautions = notices(year_built=year, painted=painted, emergency=False)
    assert "lead_safe_work" not in refusals
    assert ("lead_paint" in cautions) is (year is None or year < 1978)


def test_an_emergency_is_a_caution_and_not_a_free_pass() -> None:
    refusals, cautions = notices(year_built=1965, painted=10, emergency=True)
    assert "lead_safe_work" not in refusals
    assert "lead_emergency" in cautions


@pytest.mark.parametrize(("year", "expected"), [(1980, True), (1981, False), (None, True)])
def test_asbestos_is_presumed_up_to_1980(year: int | None, expected: bool) -> None:
    assert ("asbestos" in notices(year_built=year)[1]) is expected


@pytest.mark.parametrize(("units", "expected"), [(4, False), (5, True), (None, True)])
def test_larger_buildings_are_inspected_before_renovation(units: int | None, expected: bool) -> None:
    assert ("asbestos_inspection" in notices(dwelling_units=units, painted=1)[1]) is expected


@pytest.mark.parametrize(("distance", "refused"), [(15, True), (19.9, True), (20, False), (25, False)])
def test_a_generator_stands_twenty_feet_away(distance: float, refused: bool) -> None:
    refusals, cautions = notices(generator_distance_ft=distance)
    assert ("generator_too_close" in refusals) is refused
    assert "generator" in cautions


def test_sewage_brings_protection_and_keeps_the_air_off() -> None:
    assert {"sewage", "respirators", "hvac_off"} <= notices(category=3)[1]


def test_ceilings_and_crawl_spaces_name_their_place() -> None:
    below = chamber(room("below", wet_floor_sqft=20), name="crawl", crawl_space=True)
    report = size_document(loss(chamber(room(wet_ceiling_sqft=5)), below)).as_document()
    found = {each["code"]: each["where"] for each in report["cautions"]}
    assert found["ceiling"] == "chambers[0].rooms[0].wet_ceiling_sqft"
    assert found["confined_space"] == "chambers[1].crawl_space"
    assert "crawl_space" in found


def test_any_water_warns_of_electricity_and_gas() -> None:
    assert {"electricity", "gfci", "gas"} <= notices()[1]
    dry = size_document(loss(chamber(room()))).as_document()
    assert not codes(dry["cautions"]) & {"electricity", "gfci", "gas"}


@pytest.mark.parametrize(("area", "words"), [(5, "small"), (10, "limited"), (100, "limited"), (101, "full")])
def test_mold_is_told_by_its_size(area: int, words: str) -> None:
    report = size_document(loss(chamber(wet_room()), mould_sqft=area))
    assert words in next(each.message for each in report.cautions if each.code == "mould")


@pytest.mark.parametrize("category", [1, 2, 3])
def test_every_notice_has_a_source_and_no_open_blank(category: int) -> None:
    document = loss(chamber(wet_room(painted_sqft_disturbed=50)), category=category, year_built=None, mould_sqft=200)
    report = size_document(document | {"generator_distance_ft": 3, "hours_wet": 100})
    for each in (*report.cautions, *report.refusals):
        assert each.source
        assert "{" not in each.message
        assert each.where


@pytest.mark.parametrize(
    ("category", "material", "words"),
    [(1, "cushion", None), (2, "carpet", None), (2, "cushion", "cushion is replaced"), (3, "carpet", "both replaced")],
)
def test_carpet_and_cushion_go_by_category(category: int, material: str, words: str | None) -> None:
    one = wet_room(materials=[{"material": material, "area_sqft": 100, "covering": "none"}])
    report = size_document(loss(chamber(one), category=category))
    found = [each.message for each in report.cautions if each.code == "carpet_and_cushion"]
    assert [words in message for message in found] == ([True] if words else [])
