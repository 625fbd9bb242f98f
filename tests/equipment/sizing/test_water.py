# ANSI/IICRC S500:2015 and S500:2021 class words by percent; a worked example published by an engineering firm in 2021.
from __future__ import annotations

from typing import Any

import pytest

from equipment.sizing.port import size_document
from tests.equipment.sizing.losses import chamber, codes, loss, room, run_of_wall, wet_room


def sized(document: dict[str, Any]) -> dict[str, Any]:
    return size_document(document).as_document()


def first(*rooms: dict[str, Any], **changes: Any) -> dict[str, Any]:
    found: dict[str, Any] = sized(loss(chamber(*rooms, **changes)))["chambers"][0]
    return found


def test_a_published_room_with_floor_and_lower_walls_wet() -> None:
    found = first(wet_room())
    assert (found["surface_sqft"], found["wet_sqft"]) == (672, 240)
    assert found["wet_share"] == pytest.approx(0.357, abs=0.001)
    assert (found["class"], found["class_from"]) == (2, "worked out")


def test_a_wet_patch_of_sixteen_square_feet_is_class_1() -> None:
    found = first(room(wet_floor_sqft=16))
    assert found["wet_share"] == pytest.approx(0.024, abs=0.001)
    assert found["class"] == 1


@pytest.mark.parametrize(
    ("wet_ceiling", "water_class"), [(49, 1), (50, 2), (51, 2), (399, 2), (400, 2), (401, 3), (450, 3)]
)
def test_both_edges_belong_to_class_2(wet_ceiling: int, water_class: int) -> None:
    # 20 x 20 x 2.5 ft: 400 + 400 + 200 = 1,000 sq ft.
    wet = {"wet_ceiling_sqft": min(wet_ceiling, 400), "wet_floor_sqft": max(0, wet_ceiling - 400)}
    found = first(room(length_ft=20, width_ft=20, height_ft=2.5, **wet))
    assert found["surface_sqft"] == 1000
    assert found["class"] == water_class


def test_bound_water_is_class_4_only_when_stated() -> None:
    wood = [{"material": "wood_framing", "area_sqft": 300, "covering": "none"}]
    assert first(wet_room(materials=wood))["class"] == 2
    assert first(wet_room(), bound_water=True)["class"] == 4
    assert first(wet_room(), bound_water=True)["class_from"] == "worked out"


def test_the_leads_class_wins_over_share_and_bound_water() -> None:
    found = first(wet_room(), bound_water=True, **{"class": 3})
    assert (found["class"], found["class_from"]) == (3, "set")


def test_a_wholly_dry_chamber_needs_nothing() -> None:
    document = loss(chamber(room(), air={"dry_bulb_f": 80, "rh_pct": 60}))
    report = sized(document)
    found = report["chambers"][0]
    assert found["dehumidification"]["pints_per_day"] == 0
    assert found["dehumidification"]["derated_pints_per_day"] == 0
    assert found["air_movers"] == {"low": 0, "high": 0, "planned": 0}
    assert found["drying_days"] == {"low": 0, "likely": 0, "high": 0, "slowest": None}
    assert report["mix"] == []
    assert report["short"] == []


def test_rooms_taken_together_have_the_walls_of_square_rooms() -> None:
    found = first(room(count=4, length_ft=None, width_ft=None, floor_sqft=400))
    # Four rooms of 10 x 10: 160 ft of wall.
    assert found["surface_sqft"] == 2 * 400 + 160 * 8
    assert found["volume_cuft"] == 3200


@pytest.mark.parametrize(
    ("source", "category"),
    [
        ("supply_line", 1),
        ("rain", 1),
        ("appliance", 2),
        ("toilet_bowl", 2),
        ("drain_backup", 3),
        ("sewage", 3),
        ("ground_water", 3),
    ],
)
def test_the_source_suggests_the_category(source: str, category: int) -> None:
    report = sized(loss(chamber(wet_room(wall_runs=[run_of_wall()])), category=None, loss_source=source))
    assert "category_suggested" in codes(report["cautions"])
    mode = report["wall_cavities"]["runs"][0]["mode"]
    assert mode == {1: "positive", 2: "negative", 3: None}[category]


def test_without_category_or_source_the_caution_says_so() -> None:
    for source in (None, "other"):
        report = sized(loss(chamber(wet_room()), category=None, loss_source=source))
        assert "category_unknown" in codes(report["cautions"])


def test_a_category_given_is_not_suggested_over() -> None:
    report = sized(loss(chamber(wet_room()), category=1, loss_source="sewage"))
    assert not codes(report["cautions"]) & {"category_suggested", "category_unknown", "sewage"}


def test_time_asks_for_another_look_and_changes_nothing() -> None:
    fresh = sized(loss(chamber(wet_room(wall_runs=[run_of_wall()])), hours_wet=12))
    old = sized(loss(chamber(wet_room(wall_runs=[run_of_wall()])), hours_wet=72))
    assert "category_reinspect" not in codes(fresh["cautions"])
    assert "category_reinspect" in codes(old["cautions"])
    assert old["chambers"] == fresh["chambers"]
    assert old["wall_cavities"] == fresh["wall_cavities"]
