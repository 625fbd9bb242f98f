# Outlets by geometry, one a stud bay: 16 ft at 16 in 12, 50 ft 38, 50 ft at 24 in 25, 32 ft 24.
from __future__ import annotations

from typing import Any

import pytest

from equipment.sizing.port import size_document
from tests.equipment.sizing.losses import chamber, codes, loss, model, run_of_wall, wet_room


def walls(*runs: dict[str, Any], **changes: Any) -> dict[str, Any]:
    return size_document(loss(chamber(wet_room(wall_runs=list(runs))), **changes)).as_document()


@pytest.mark.parametrize(
    ("length", "spacing", "outlets"), [(16, 16, 12), (50, 16, 38), (50, 24, 25), (32, 16, 24), (0, 16, 0)]
)
def test_outlets_by_stud_spacing(length: int, spacing: int, outlets: int) -> None:
    found = walls(run_of_wall(length_ft=length, stud_spacing_in=spacing))["wall_cavities"]
    assert found["outlets"] == outlets
    assert found["kits"] == -(-outlets // 24)


def test_outlets_are_rounded_up_run_by_run() -> None:
    found = walls(*[run_of_wall(length_ft=1, stud_spacing_in=16) for _ in range(4)])["wall_cavities"]
    assert [run["outlets"] for run in found["runs"]] == [1, 1, 1, 1]
    assert found["outlets"] == 4


@pytest.mark.parametrize(("category", "mode"), [(1, "positive"), (2, "negative")])
def test_the_category_sets_the_mode(category: int, mode: str) -> None:
    report = walls(run_of_wall(), category=category)
    assert report["wall_cavities"]["runs"][0]["mode"] == mode
    assert ("cavity_filter_discharge" in codes(report["cautions"])) is (mode == "negative")


@pytest.mark.parametrize(
    ("changes", "category", "code"),
    [
        ({}, 3, "cavity_category_3"),
        ({"insulation_wet": True}, 1, "cavity_insulation_wet"),
        ({"vapor_barrier": True}, 1, "cavity_vapor_barrier"),
        ({"fire_rated": True}, 2, "cavity_fire_rated"),
    ],
)
def test_a_run_that_must_not_be_dried_stops_alone(changes: dict[str, Any], category: int, code: str) -> None:
    report = walls(run_of_wall(length_ft=8), run_of_wall(**changes), category=category)
    good, bad = report["wall_cavities"]["runs"]
    assert (bad["outlets"], bad["mode"]) == (0, None)
    assert (code, "chambers[0].rooms[0].wall_runs[1]") in {(each["code"], each["where"]) for each in report["refusals"]}
    if category != 3:
        assert good["outlets"] == 6
        assert report["wall_cavities"]["outlets"] == 6


def test_two_reasons_are_both_named() -> None:
    report = walls(run_of_wall(insulation_wet=True, fire_rated=True))
    assert codes(report["refusals"]) == {"cavity_insulation_wet", "cavity_fire_rated"}


def test_the_stock_says_how_many_outlets_a_kit_has() -> None:
    stock = [model("kit", "cavity_kit", outlets=5, free=9), model("mover", "air_mover")]
    report = walls(run_of_wall(), catalogue=stock)
    assert report["wall_cavities"]["kits"] == 3
    assert ("kit", 3) in {(row["model"], row["count"]) for row in report["mix"]}


def test_kits_short_are_told_by_the_piece() -> None:
    stock = [model("kit", "cavity_kit", outlets=5, free=2), model("lgr", "lgr", rated_pints_per_day=130)]
    report = walls(run_of_wall(), catalogue=[*stock, model("mover", "air_mover")])
    assert [{key: row[key] for key in ("chamber", "kind", "unit", "wanted", "found")} for row in report["short"]] == [
        {"chamber": None, "kind": "cavity_kit", "unit": "count", "wanted": 3, "found": 2}
    ]
