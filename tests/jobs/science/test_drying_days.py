"""Usual days by material: every word of the port, the covering, the slowest by name, and a table with no holes."""

import copy
import tomllib
from importlib.resources import files
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.science.drying_days import (
    BadDaysTable,
    UnknownMaterial,
    WetMaterial,
    default_table,
    drying_days,
    read_table,
)

MATERIALS = [
    "carpet",
    "cushion",
    "drywall",
    "plaster",
    "wood_framing",
    "wood_subfloor",
    "hardwood_floor",
    "laminate",
    "sheet_vinyl",
    "vinyl_tile",
    "ceramic_tile",
    "concrete",
    "masonry",
    "insulation",
    "soil",
    "furniture",
]
COVERINGS = ["none", "paint", "paper", "vinyl_paper", "gloss_paint", "tile"]

wet = st.builds(WetMaterial, st.sampled_from(MATERIALS), st.sampled_from(COVERINGS), st.booleans())


def days(*materials: WetMaterial) -> tuple[int, int, int]:
    found = drying_days(materials)
    assert found is not None
    return found.low, found.likely, found.high


def shipped() -> dict[str, Any]:
    return tomllib.loads(files("jobs.science").joinpath("figures", "drying_days.toml").read_text(encoding="utf-8"))


def test_the_table_knows_every_word_of_the_port_and_no_other() -> None:
    assert set(default_table().materials) == set(MATERIALS)
    assert set(default_table().covering_slows_by) == set(COVERINGS)


@pytest.mark.parametrize(
    ("material", "usual"),
    [
        (WetMaterial("carpet"), (1, 2, 3)),
        (WetMaterial("cushion"), (2, 3, 4)),
        (WetMaterial("drywall"), (2, 3, 5)),
        (WetMaterial("drywall", "paint"), (2, 3, 5)),
        (WetMaterial("plaster"), (4, 6, 10)),
        (WetMaterial("wood_framing"), (3, 4, 7)),
        (WetMaterial("hardwood_floor"), (5, 8, 14)),
        (WetMaterial("concrete"), (5, 8, 14)),
        (WetMaterial("soil"), (2, 4, 7)),
        # A papered wall of half-days is planned to the whole day above.
        (WetMaterial("drywall", "paper"), (3, 5, 8)),
        (WetMaterial("drywall", "vinyl_paper"), (4, 6, 10)),
        (WetMaterial("drywall", vapor_barrier=True), (4, 6, 10)),
    ],
    ids=lambda value: " ".join(map(str, value)) if isinstance(value, WetMaterial) else "",
)
def test_usual_days(material: WetMaterial, usual: tuple[int, int, int]) -> None:
    assert days(material) == usual


def test_a_barrier_and_a_vinyl_face_slow_no_more_than_one_of_them() -> None:
    assert days(WetMaterial("drywall", "vinyl_paper", True)) == days(WetMaterial("drywall", "vinyl_paper"))


def test_the_slowest_is_named_with_its_working() -> None:
    found = drying_days([("carpet", "none", False), ("wood_framing", "none", False), ("drywall", "vinyl_paper", False)])
    assert found is not None
    assert found.slowest == "drywall"
    assert found.why == "drywall: 2, 3, 5 days, times 2 for vinyl paper"
    assert (found.low, found.likely, found.high) == (4, 6, 10)


def test_a_borrowed_figure_says_from_which_material() -> None:
    found = drying_days([WetMaterial("laminate", vapor_barrier=True)])
    assert found is not None
    assert found.why == "laminate (taken as hardwood floor): 5, 8, 14 days, times 2 for a vapor barrier"
    assert found.source == "common practice, no source"


def test_nothing_wet_has_no_days() -> None:
    assert drying_days([]) is None


@given(st.lists(wet, min_size=1, max_size=6), wet)
def test_one_more_wet_material_never_takes_less(materials: list[WetMaterial], one_more: WetMaterial) -> None:
    before, after = days(*materials), days(*materials, one_more)
    assert all(a >= b for a, b in zip(after, before, strict=True))
    assert after[0] <= after[1] <= after[2]


@given(st.lists(wet, min_size=1, max_size=6))
def test_the_order_of_materials_changes_nothing(materials: list[WetMaterial]) -> None:
    assert drying_days(materials) == drying_days(materials[::-1])


@given(wet)
def test_the_range_of_all_is_that_of_the_slowest_or_wider(material: WetMaterial) -> None:
    found = drying_days([material])
    assert found is not None
    assert found.slowest == material.material


def test_unknown_words_are_refused_with_those_that_are_known() -> None:
    with pytest.raises(UnknownMaterial, match="give one of carpet, ceramic_tile"):
        drying_days([WetMaterial("velvet")])
    with pytest.raises(UnknownMaterial, match="not a covering"):
        drying_days([WetMaterial("drywall", "moss")])


@pytest.mark.parametrize(
    ("row", "key", "value"),
    [
        ("carpet", "source", ""),
        ("carpet", "confidence", "certain"),
        ("carpet", "days", [3, 2, 1]),
        ("carpet", "days", [1, 2]),
        ("carpet", "days", [0, 2, 3]),
        ("laminate", "taken_as", "velvet"),
    ],
)
def test_a_table_with_a_hole_is_refused_by_row(row: str, key: str, value: object) -> None:
    data = copy.deepcopy(shipped())
    data["materials"][row][key] = value
    with pytest.raises(BadDaysTable, match=f"materials.{row}"):
        read_table(data)


def test_a_covering_that_speeds_drying_up_is_refused() -> None:
    data = copy.deepcopy(shipped())
    data["coverings"]["paper"]["slows_by"] = 0.5
    with pytest.raises(BadDaysTable, match=r"coverings\.paper"):
        read_table(data)
