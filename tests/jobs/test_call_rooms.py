"""Rooms told in one line: read, said back, and the two agree."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calls import room_lines, rooms
from jobs.refusals import Unusable

KITCHEN = "kitchen 13x15 hardwood floor 150 walls 70 ceiling 110 cavity 35 wood 150"


def _said(line: str) -> dict[str, object]:
    return {cell: value for cell, value in room_lines.cells_of(line).items() if value is not None}


def test_a_whole_line() -> None:
    assert _said(KITCHEN) == {
        "name": "kitchen",
        "length_ft": 13,
        "width_ft": 15,
        "floor": "hardwood_floor",
        "wet_floor_sqft": 150,
        "wet_lower_wall_sqft": 70,
        "wet_ceiling_sqft": 110,
        "wall_cavity_ft": 35,
        "wet_wood_floor_sqft": 150,
    }


@pytest.mark.parametrize(
    ("line", "cells"),
    [
        ("hall 4x18", {"name": "hall", "length_ft": 4, "width_ft": 18, "wet_floor_sqft": 72}),
        ("hall 4 by 18", {"name": "hall", "length_ft": 4, "width_ft": 18, "wet_floor_sqft": 72}),
        ("bath 8x10x9 walls", {
            "name": "bath", "length_ft": 8, "width_ft": 10, "height_ft": 9, "wet_lower_wall_sqft": 72,
        }),
        ("den 10x10 upper", {"name": "den", "length_ft": 10, "width_ft": 10, "wet_upper_wall_sqft": 240}),
        ("room 11 12x14", {"name": "room 11", "length_ft": 12, "width_ft": 14, "wet_floor_sqft": 168}),
        ("wood shed", {"name": "wood shed"}),
        ("cellar floor 300", {"name": "cellar", "wet_floor_sqft": 300}),
        ("entry 5x6 vinyl tile floor", {
            "name": "entry", "length_ft": 5, "width_ft": 6, "floor": "vinyl_tile", "wet_floor_sqft": 30,
        }),
        # While it is typed:
        ("kit", {"name": "kit"}),
        ("kitchen 12x", {"name": "kitchen 12x"}),
        ("kitchen 12x14 wa", {"name": "kitchen", "length_ft": 12, "width_ft": 14, "wet_floor_sqft": 168}),
    ],
)  # fmt: skip
def test_other_lines(line: str, cells: dict[str, object]) -> None:
    assert _said(line) == cells


@pytest.mark.parametrize("line", ["kitchen 12x14 150", "kitchen 12x14 lava 20", "kitchen 12x1400"])
def test_what_cannot_be_meant_says_what_would_be_right(line: str) -> None:
    with pytest.raises(Unusable, match=r"floor 150|words are known|feet"):
        room_lines.cells_of(line)


sizes = st.integers(1, 1000)
areas = st.none() | st.integers(0, 5000)


@given(
    st.sampled_from(["kitchen", "room 11", "upper hall"]), sizes, sizes, st.none() | st.integers(7, 20),
    st.none() | st.sampled_from(sorted(room_lines.FLOORS)), st.tuples(areas, areas, areas, areas, areas, areas),
)  # fmt: skip
def test_what_is_said_back_is_read_as_the_same(name, length, width, height, floor, wet) -> None:
    room = {"name": name, "length_ft": length, "width_ft": width, "height_ft": height, "floor": floor}
    cells = ("wet_floor_sqft", "wet_lower_wall_sqft", "wet_upper_wall_sqft", "wet_ceiling_sqft", "wall_cavity_ft",
             "wet_wood_floor_sqft")  # fmt: skip
    room |= dict(zip(cells, wet, strict=True))
    said = room_lines.line_of(room)
    assert said is not None

    again = room_lines.cells_of(said)

    if all(value is None for value in wet):
        # With a size alone the whole floor is meant, and is then said.
        assert again["wet_floor_sqft"] == length * width
        again["wet_floor_sqft"] = None
    assert again == room


def test_a_cell_changed_alone_is_in_the_line() -> None:
    told = rooms.with_cell([], "room:a:line", "kitchen 12x14")
    told = rooms.with_cell(told, "room:a:chamber", "upper floor")
    told = rooms.with_cell(told, "room:a:wet_floor_sqft", 90)

    assert rooms.cell_value(told, "room:a:line") == "kitchen 12x14 floor 90"
    assert rooms.cell_value(rooms.with_cell(told, "room:a:line", "kitchen 12x15"), "room:a:chamber") == "upper floor"


def test_the_same_room_by_line_and_by_cell_cannot_overwrite_unseen() -> None:
    before = rooms.with_cell([], "room:a:line", "kitchen 12x14")
    after = rooms.with_cell(before, "room:a:length_ft", 13)

    assert rooms.changed_cells(before, after, "room:a:length_ft") == {"room:a:length_ft", "room:a:line"}


@pytest.mark.parametrize(
    "key", ["room:a", "room::name", "room:a b:name", "room:a:colour", "room:" + "a" * 41 + ":name"]
)
def test_a_cell_that_is_none_is_refused(key: str) -> None:
    with pytest.raises(Unusable):
        rooms.parts_of(key)


def test_the_list_ends_somewhere() -> None:
    told = [{"id": f"r{n}"} for n in range(rooms.MOST_ROOMS)]

    with pytest.raises(Unusable):
        rooms.with_cell(told, "room:one-more:name", "attic")


def test_a_whole_list_names_the_cell_that_is_wrong() -> None:
    with pytest.raises(Unusable) as refused:
        rooms.read_all([{"name": "kitchen", "length_ft": 12}, {"name": "hall", "length_ft": -3}])

    assert refused.value.where == "rooms[1].length_ft"
    assert [room["id"] for room in rooms.read_all([{"name": "a"}, {"name": "b", "id": "x"}])] == ["r1", "x"]
