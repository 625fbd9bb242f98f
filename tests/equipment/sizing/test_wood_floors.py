# Trade practice: a kit of 4 mats 46 x 30 in and 2 mats 23 x 30 in covers 47.9 sq ft.
from __future__ import annotations

import pytest

from equipment.sizing.port import size_document
from tests.equipment.sizing.losses import chamber, codes, loss, model, wet_room


@pytest.mark.parametrize(("wet", "kits"), [(0, 0), (1, 1), (47.9, 1), (47.91, 2), (95.8, 2), (144, 4)])
def test_kits_by_wet_area(wet: float, kits: int) -> None:
    found = size_document(loss(chamber(wet_room(wet_wood_floor_sqft=wet)))).wood_floors
    assert found.kits == kits


def test_rooms_share_kits() -> None:
    rooms = [wet_room(name, wet_wood_floor_sqft=20) for name in ("hall", "den")]
    assert size_document(loss(chamber(*rooms))).wood_floors.kits == 1


def test_the_stock_says_what_a_kit_covers() -> None:
    stock = [model("mats", "floor_mat_kit", covers_sqft=60)]
    assert size_document(loss(chamber(wet_room(wet_wood_floor_sqft=144)), catalogue=stock)).wood_floors.kits == 3


def test_category_3_asks_for_cleaning_first() -> None:
    report = size_document(loss(chamber(wet_room(wet_wood_floor_sqft=20)), category=3)).as_document()
    assert "wood_floor_category_3" in codes(report["cautions"])
