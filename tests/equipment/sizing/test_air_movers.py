# ANSI/IICRC S500:2015 and S500:2021 initial air movers, from memory; worked rows derived by hand from those figures.
from __future__ import annotations

from typing import Any

import pytest

from equipment.sizing.port import size_document
from tests.equipment.sizing.losses import chamber, codes, loss, room, wet_room


def movers(one: dict[str, Any], **changes: Any) -> tuple[int, int, int]:
    report = size_document(loss(chamber(one), **changes)).as_document()
    found = report["chambers"][0]["rooms"][0]["air_movers"]
    assert report["chambers"][0]["air_movers"] == found
    return found["low"], found["planned"], found["high"]


@pytest.mark.parametrize(
    ("one", "expected"),
    [
        (room(width_ft=15, wet_floor_sqft=180), (4, 4, 5)),
        (room(length_ft=10, width_ft=10, wet_floor_sqft=100), (3, 3, 3)),
        (room(length_ft=14, width_ft=20, wet_floor_sqft=280, offsets_over_18in=2), (7, 8, 9)),
        # 1 + 144 / 60 = 3.4: the example of exact decimals.
        (room(wet_floor_sqft=144), (4, 4, 4)),
        # Exactly whole sums stay whole: 1 + 120 / 60 = 3, 1 + 140 / 70 = 3, 1 + 100 / 50 = 3.
        (room(wet_floor_sqft=120), (3, 3, 4)),
        (room(wet_floor_sqft=140), (3, 4, 4)),
        (room(wet_floor_sqft=100), (3, 3, 3)),
        # One rounding for the room: 1 + 30 / 70 + 60 / 150 = 1.83; 1 + 30 / 60 + 60 / 125 = 1.98; 1 + 0.6 + 0.6 = 2.2.
        (room(wet_floor_sqft=30, wet_ceiling_sqft=60), (2, 2, 3)),
        (room(wet_ceiling_sqft=30, wet_upper_wall_sqft=30), (2, 2, 2)),
        # Lower walls go with the floor: they add nothing of their own.
        (room(wet_lower_wall_sqft=96), (1, 1, 1)),
    ],
)
def test_floor_and_upper_surfaces(one: dict[str, Any], expected: tuple[int, int, int]) -> None:
    assert movers(one) == expected


@pytest.mark.parametrize("water_class", [1, 2, 3, 4])
def test_the_count_is_the_same_in_every_class(water_class: int) -> None:
    document = loss(chamber(wet_room(), **{"class": water_class}))
    assert (
        size_document(document).chambers[0].air_movers
        == size_document(loss(chamber(wet_room()))).chambers[0].air_movers
    )


@pytest.mark.parametrize(
    ("one", "expected"),
    [
        (room(length_ft=4, width_ft=5, wet_floor_sqft=20), (1, 2, 2)),
        (room(length_ft=5, width_ft=5, wet_floor_sqft=20), (2, 2, 2)),
        (room(length_ft=4, width_ft=5, wet_floor_sqft=20, wet_ceiling_sqft=1), (2, 2, 2)),
        (room(length_ft=4, width_ft=5, wet_floor_sqft=20, offsets_over_18in=1), (1, 3, 3)),
        (room(count=3, length_ft=None, width_ft=None, floor_sqft=60, wet_floor_sqft=60), (3, 4, 5)),
    ],
)
def test_a_small_room_may_do_with_one(one: dict[str, Any], expected: tuple[int, int, int]) -> None:
    assert movers(one) == expected


@pytest.mark.parametrize(("feet", "expected"), [(27, 2), (14, 1), (14.001, 2), (28, 2), (0.5, 1)])
def test_the_lower_wall_rule_stands_alone(feet: float, expected: int) -> None:
    one = room(length_ft=40, width_ft=20, lower_wall_only_ft=feet, offsets_over_18in=3, wet_floor_sqft=2 * feet)
    assert movers(one) == (expected,) * 3


def test_rooms_taken_together_round_once() -> None:
    together = room(count=3, length_ft=None, width_ft=None, floor_sqft=300, wet_floor_sqft=300)
    # 3 + 300 / 70 = 7.29, 3 + 300 / 60 = 8, 3 + 300 / 50 = 9.
    assert movers(together) == (8, 8, 9)


def test_a_dry_room_has_none_and_its_neighbour_its_own() -> None:
    report = size_document(loss(chamber(room("hall", offsets_over_18in=2), wet_room())))
    assert [each.air_movers.planned for each in report.chambers[0].rooms] == [0, 4]
    assert report.chambers[0].air_movers.planned == 4


def test_category_3_plans_none_before_cleaning() -> None:
    assert movers(wet_room(), category=3) == (4, 0, 4)
    report = size_document(loss(chamber(wet_room()), category=3)).as_document()
    assert "air_movers_after_cleaning" in codes(report["cautions"])
    assert not [row for row in report["mix"] if row["kind"] == "air_mover"]


@pytest.mark.parametrize(
    ("one", "expected"),
    [
        (room(length_ft=15, lower_wall_only_ft=27), (2, 3, 3)),
        (room(wet_lower_wall_sqft=54), (2, 3, 3)),
        (room(wet_lower_wall_sqft=96, wet_floor_sqft=144, offsets_over_18in=2), (3, 4, 5)),
        (room(lower_wall_only_ft=12, wet_lower_wall_sqft=96), (1, 1, 2)),
    ],
)
def test_the_older_rule_counts_wet_wall(one: dict[str, Any], expected: tuple[int, int, int]) -> None:
    report = size_document(loss(chamber(one, **{"class": 2}), rules="linear-feet"))
    counts = report.chambers[0].air_movers
    assert (counts.low, counts.planned, counts.high) == expected


def test_the_older_rule_says_when_it_has_no_wall_to_count() -> None:
    report = size_document(loss(chamber(room(wet_floor_sqft=50), **{"class": 1}), rules="linear-feet")).as_document()
    assert report["chambers"][0]["air_movers"]["high"] == 0
    assert "wall_length_unknown" in codes(report["cautions"])
