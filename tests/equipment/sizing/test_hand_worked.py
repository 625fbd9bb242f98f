"""
Losses worked by hand from the rules as published in the trade (ANSI/IICRC S500 simple method, NFPA 70 at 80 %).

Every expected number was worked on paper from the published rule, never taken from the program.
"""

from __future__ import annotations

import json
from typing import Any

import pytest

from equipment.sizing.port import run
from tests.equipment.sizing.losses import chamber, loss, room, run_of_wall, wet_room


def sized(*chambers: dict[str, Any], **changes: Any) -> dict[str, Any]:
    report: dict[str, Any] = json.loads(run(json.dumps(loss(*chambers, **changes))))
    return report


def movers(**of_room: Any) -> tuple[int, int, int]:
    found = sized(chamber(room(**of_room)))["chambers"][0]["air_movers"]
    return found["low"], found["high"], found["planned"]


@pytest.mark.parametrize(
    ("wet", "share", "number"),
    [
        ({"wet_floor_sqft": 144, "wet_lower_wall_sqft": 96}, 0.3571, 2),  # 240 of 672 sq ft
        ({"wet_floor_sqft": 16}, 0.0238, 1),
        ({"wet_floor_sqft": 33.6}, 0.05, 2),  # the lower edge belongs to class 2
        ({"wet_floor_sqft": 33.599}, 0.05, 1),
        ({"wet_floor_sqft": 144, "wet_lower_wall_sqft": 96, "wet_upper_wall_sqft": 28.8}, 0.4, 2),  # so does the upper
        ({"wet_floor_sqft": 144, "wet_lower_wall_sqft": 96, "wet_upper_wall_sqft": 28.801}, 0.4, 3),
        ({"wet_floor_sqft": 144, "wet_lower_wall_sqft": 96, "wet_upper_wall_sqft": 288, "wet_ceiling_sqft": 144}, 1, 3),
        ({}, 0, 1),
    ],
)  # fmt: skip
def test_class_from_the_wet_share_of_672_sqft(wet: dict[str, Any], share: float, number: int) -> None:
    found = sized(chamber(room(**wet)))["chambers"][0]

    assert (found["surface_sqft"], found["class"], found["class_from"]) == (672, number, "worked out")
    assert found["wet_share"] == pytest.approx(share, abs=1e-4)


@pytest.mark.parametrize(
    ("kind", "number", "factor", "need"),
    [
        # 20 x 20 x 8 = 3,200 cu ft
        ("conventional", 1, 100, 32), ("conventional", 2, 40, 80), ("conventional", 3, 30, 106.6667),
        ("lgr", 1, 100, 32), ("lgr", 2, 50, 64), ("lgr", 3, 40, 80), ("lgr", 4, 40, 80),
        ("desiccant", 1, 1, 53.3333), ("desiccant", 2, 2, 106.6667), ("desiccant", 3, 3, 160),
        ("desiccant", 4, 2, 106.6667),
    ],
)  # fmt: skip
def test_need_of_3200_cuft(kind: str, number: int, factor: float, need: float) -> None:
    wet = room(length_ft=20, width_ft=20, wet_floor_sqft=10)
    found = sized(chamber(wet, dehumidifier=kind, **{"class": number}))["chambers"][0]

    unit = "process_cfm" if kind == "desiccant" else "pints_per_day"
    assert (found["class"], found["class_from"]) == (number, "set")
    assert found["dehumidification"] == {
        "kind": kind, unit: pytest.approx(need, abs=1e-4), "factor": factor, "derated_pints_per_day": None,
    }  # fmt: skip


def test_conventional_in_class_4_stops_that_part_only() -> None:
    report = sized(chamber(wet_room(), dehumidifier="conventional", bound_water=True))

    assert report["chambers"][0]["class"] == 4
    assert report["chambers"][0]["dehumidification"] is None
    assert report["chambers"][0]["air_movers"]["planned"] == 4
    assert [row["where"] for row in report["refusals"]] == ["chambers[0].dehumidifier"]


def test_a_wholly_dry_chamber_needs_nothing() -> None:
    report = sized(chamber(room()), category=3)
    found = report["chambers"][0]

    assert found["dehumidification"]["pints_per_day"] == 0
    assert found["air_movers"] == {"low": 0, "high": 0, "planned": 0}
    assert (report["mix"], report["short"], report["power"]["total_a"]) == ([], [], 0)


@pytest.mark.parametrize(
    ("of_room", "expected"),
    [
        ({"length_ft": 12, "width_ft": 15, "wet_floor_sqft": 180}, (4, 5, 4)),  # 3.57, 4.6, 4
        ({"length_ft": 10, "width_ft": 10, "wet_floor_sqft": 100}, (3, 3, 3)),  # 2.43, 3, 2.67
        ({"length_ft": 14, "width_ft": 20, "wet_floor_sqft": 280, "offsets_over_18in": 2}, (7, 9, 8)),  # 7, 8.6, 7.67
        ({"length_ft": 10, "width_ft": 14, "wet_floor_sqft": 140}, (3, 4, 4)),  # 3, 3.8, 3.33
        ({"wet_floor_sqft": 120}, (3, 4, 3)),  # 2.71, 3.4, 3 exactly
        ({"wet_floor_sqft": 120.001}, (3, 4, 4)),  # a hair over 3
        ({"wet_ceiling_sqft": 100, "wet_upper_wall_sqft": 50}, (2, 3, 3)),  # 2, 2.5, 2.2
        ({"wet_floor_sqft": 70, "wet_ceiling_sqft": 75}, (3, 4, 3)),  # 2.5, 3.15, 2.77
        ({"wet_lower_wall_sqft": 40}, (1, 1, 1)),  # the lower wall counts for the class only
        ({"length_ft": 5, "width_ft": 4.9, "wet_floor_sqft": 24.5}, (1, 2, 2)),  # under 25 sq ft and dry above
        ({"length_ft": 5, "width_ft": 5, "wet_floor_sqft": 25}, (2, 2, 2)),  # 25 sq ft is not under 25
        ({"length_ft": 4, "width_ft": 4, "wet_floor_sqft": 16, "wet_ceiling_sqft": 16}, (2, 2, 2)),
        ({"length_ft": 4, "width_ft": 4, "wet_floor_sqft": 16, "offsets_over_18in": 1}, (1, 3, 3)),
        # the lower-wall rule stands alone: offsets are not added
        ({"lower_wall_only_ft": 27, "wet_floor_sqft": 54, "offsets_over_18in": 3}, (2, 2, 2)),
        ({"lower_wall_only_ft": 28}, (2, 2, 2)),
        ({"lower_wall_only_ft": 28.01}, (3, 3, 3)),
        # rooms told together: three take three movers before their area, and one rounding
        ({"count": 3, "length_ft": 10, "width_ft": 10, "wet_floor_sqft": 300}, (8, 9, 8)),  # 7.29, 9, 8
        ({"count": 2, "length_ft": 4, "width_ft": 6, "wet_floor_sqft": 48}, (2, 3, 3)),  # small each: 2; 2.96; 2.8
        ({"count": 4, "length_ft": None, "width_ft": None, "floor_sqft": 400, "wet_floor_sqft": 400}, (10, 12, 11)),
    ],
)  # fmt: skip
def test_air_movers_of_a_room(of_room: dict[str, Any], expected: tuple[int, int, int]) -> None:
    assert movers(**of_room) == expected


def test_four_square_rooms_share_400_sqft() -> None:
    """Each is 10 x 10 ft: walls 4 x 40 x 8 = 1,280 sq ft, surface 2,080, volume 3,200."""
    together = room(count=4, length_ft=None, width_ft=None, floor_sqft=400, wet_floor_sqft=400, wet_lower_wall_sqft=320)
    found = sized(chamber(together))["chambers"][0]

    assert (found["surface_sqft"], found["volume_cuft"], found["wet_sqft"]) == (2080, 3200, 720)
    assert found["class"] == 2  # 34.6 %


def test_category_3_plans_no_air_movers_and_filters_all_chambers_together() -> None:
    """Volumes 1,152 and 3,200; a dry chamber is not affected: 4,352 x 6 / 60 = 435.2 cfm."""
    large = room("den", length_ft=20, width_ft=20, wet_floor_sqft=10)
    report = sized(chamber(wet_room()), chamber(large, name="cellar"), chamber(room(), name="attic"), category=3)

    assert report["air_filtration"]["cfm"] == pytest.approx(435.2)
    assert report["air_filtration"]["changes_per_hour"] == 6
    assert report["chambers"][0]["air_movers"] == {"low": 4, "high": 4, "planned": 0}
    assert [(row["kind"], row["chamber"], row["count"]) for row in report["mix"] if row["kind"] == "air_scrubber"] == [
        ("air_scrubber", None, 1)
    ]
    assert all(row["kind"] != "air_mover" for row in report["mix"])


@pytest.mark.parametrize(("category", "mould", "wanted"), [(1, 0, None), (2, 0, None), (1, 5, 115.2), (3, 0, 115.2)])
def test_filtration_for_category_3_or_mold_only(category: int, mould: int, wanted: float | None) -> None:
    found = sized(chamber(wet_room()), category=category, mould_sqft=mould)["air_filtration"]

    assert (found and found["cfm"]) == wanted


@pytest.mark.parametrize(
    ("category", "of_run", "outlets", "mode"),
    [
        (1, {}, 12, "positive"),
        (2, {}, 12, "negative"),
        (1, {"length_ft": 20, "stud_spacing_in": 24}, 10, "positive"),
        (1, {"length_ft": 20.1, "stud_spacing_in": 24}, 11, "positive"),
        (3, {}, 0, None),
        (1, {"insulation_wet": True}, 0, None),
        (1, {"vapor_barrier": True}, 0, None),
        (2, {"fire_rated": True}, 0, None),
    ],
)
def test_outlets_of_a_wall_run(category: int, of_run: dict[str, Any], outlets: int, mode: str | None) -> None:
    report = sized(chamber(wet_room(wall_runs=[run_of_wall(**of_run)])), category=category)

    (found,) = report["wall_cavities"]["runs"]
    assert (found["outlets"], found["mode"]) == (outlets, mode)
    places = [row["where"] for row in report["refusals"]]
    assert ("chambers[0].rooms[0].wall_runs[0]" in places) == (mode is None)


def test_each_run_is_rounded_by_itself() -> None:
    """50 ft at 16 in is 37.5, up to 38; twice that is 76, and a kit of 24 is wanted four times."""
    runs = [run_of_wall(length_ft=50), run_of_wall(length_ft=50)]
    found = sized(chamber(room(length_ft=30, width_ft=20, wet_floor_sqft=600, wall_runs=runs)))["wall_cavities"]

    assert (found["outlets"], found["kits"]) == (76, 4)


# Curve A (Winkler, Christensen and Tomerlin, NREL 2011), worked apart from the program.
def curve_a(temp_f: float, rh_pct: float) -> float:
    c = (temp_f - 32) / 1.8
    return (
        -1.162525707 + 0.02271469 * c - 0.000113208 * c * c + 0.021110538 * rh_pct
        - 0.0000693034 * rh_pct * rh_pct + 0.000378843 * c * rh_pct
    )  # fmt: skip


@pytest.mark.parametrize(
    ("kind", "temp_f", "rh_pct", "share"),
    [
        ("conventional", 80, 60, 1), ("lgr", 75, 60, 0.8881), ("lgr", 70, 50, 0.5565), ("conventional", 90, 60, 1.2185),
        ("conventional", 35, 5, 0),  # below nothing is nothing
        ("conventional", 120, 100, curve_a(90, 90) / curve_a(80, 60)),  # and above the curve's range its last value
        ("lgr", 80, 20, 0),  # dew point 35.5 F is above 80 - 45 = 35, yet the curve says nothing is removed
        ("lgr", 100, 25, curve_a(100, 25) / curve_a(80, 60)),  # dew point 58.6 F is above 55
        ("lgr", 100, 20, 0),  # dew point 52.5 F is not
        ("conventional", 100, 20, curve_a(100, 20) / curve_a(80, 60)),
    ],
)  # fmt: skip
@pytest.mark.parametrize("elevation_ft", [0, 5000])
def test_real_output(kind: str, temp_f: float, rh_pct: float, share: float, elevation_ft: int) -> None:
    """1,152 cu ft in class 2: 23.04 pints/day for a low-grain machine, 28.8 for a conventional one."""
    air = {"dry_bulb_f": temp_f, "rh_pct": rh_pct}
    need = sized(chamber(wet_room(), dehumidifier=kind, air=air), elevation_ft=elevation_ft)["chambers"][0]
    rated = {"lgr": 23.04, "conventional": 28.8}[kind]

    assert need["dehumidification"]["derated_pints_per_day"] == pytest.approx(rated * max(0, share), rel=2e-4, abs=2e-3)
