# Trade practice: cfm = cubic feet x air changes / 60; 6 an hour planned, 4 at least.
from __future__ import annotations

from equipment.sizing.port import size_document
from tests.equipment.sizing.losses import chamber, codes, loss, room, wet_room


def test_clean_water_without_mold_wants_none() -> None:
    assert size_document(loss(chamber(wet_room()), category=2)).air_filtration is None


def test_category_3_takes_all_affected_chambers_together() -> None:
    # 10 x 87.5 x 8 = 7,000 cu ft; the dry chamber does not count.
    wet = chamber(room(length_ft=10, width_ft=62.5, wet_floor_sqft=10), name="cellar")
    more = chamber(room(length_ft=10, width_ft=25, wet_floor_sqft=10), name="hall")
    dry = chamber(room(), name="attic")
    report = size_document(loss(wet, more, dry, category=3)).as_document()
    assert report["air_filtration"] == {"cfm": 700, "changes_per_hour": 6, "why": "category 3 water"}
    rows = [row for row in report["mix"] if row["kind"] == "air_scrubber"]
    assert [(row["chamber"], row["count"]) for row in rows] == [(None, 2)]


def test_mold_in_clean_water_wants_it_too() -> None:
    report = size_document(loss(chamber(wet_room()), mould_sqft=12)).as_document()
    assert report["air_filtration"]["cfm"] == 115.2
    assert {"mould", "mould_licence", "respirators"} <= codes(report["cautions"])


def test_mold_without_water_counts_every_chamber() -> None:
    report = size_document(loss(chamber(room()), mould_sqft=5)).as_document()
    assert report["air_filtration"]["cfm"] == 115.2
    assert "mould_licence" not in codes(report["cautions"])
