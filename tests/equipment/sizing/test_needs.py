"""From needs to machines: whole units of the need's own kind in each chamber, and what is short said exactly."""

from __future__ import annotations

from typing import Any

from equipment.sizing.port import size_document
from tests.equipment.sizing.losses import chamber, codes, loss, model, room, wet_room

MOVERS = model("mover", "air_mover", free=99)


def sized(document: dict[str, Any]) -> dict[str, Any]:
    return size_document(document).as_document()


def rows(report: dict[str, Any], kind: str) -> list[tuple[str | None, str, int]]:
    return [(row["chamber"], row["model"], row["count"]) for row in report["mix"] if row["kind"] == kind]


def big(name: str, **changes: Any) -> dict[str, Any]:
    """16,000 cu ft, class 2: 320 pints a day of low-grain capacity."""
    return chamber(room(length_ft=50, width_ft=40, wet_floor_sqft=10), name=name, **{"class": 2}, **changes)


def lgr(name: str, pints: float, free: int, amps: float = 7) -> dict[str, Any]:
    return model(name, "lgr", rated_pints_per_day=pints, free=free, running_a=amps)


def test_fewest_units_then_least_amps_then_least_surplus_then_name() -> None:
    stock = [lgr("a small", 70, 9, 1), lgr("large", 160, 9, 9), lgr("mid", 130, 9, 8), MOVERS]
    # Two of 160 are fewer than three of anything.
    assert rows(sized(loss(big("one"), catalogue=stock)), "lgr") == [("one", "large", 2)]
    stock = [lgr("thirsty", 160, 9, 9), lgr("frugal", 165, 9, 8.5), MOVERS]
    assert rows(sized(loss(big("one"), catalogue=stock)), "lgr") == [("one", "frugal", 2)]
    stock = [lgr("more", 170, 9), lgr("just", 160, 9), MOVERS]
    assert rows(sized(loss(big("one"), catalogue=stock)), "lgr") == [("one", "just", 2)]
    stock = [lgr("zed", 160, 9), lgr("ace", 160, 9), MOVERS]
    assert rows(sized(loss(big("one"), catalogue=stock)), "lgr") == [("one", "ace", 2)]


def test_each_chamber_is_met_by_its_own_whole_units() -> None:
    # 23.04 pints each: one machine could do for both, but it stands in one chamber.
    report = sized(loss(chamber(wet_room()), chamber(wet_room(), name="upstairs")))
    assert [(chamber_, count) for chamber_, _, count in rows(report, "lgr")] == [("ground floor", 1), ("upstairs", 1)]


def test_stock_is_shared_between_chambers_and_never_used_twice() -> None:
    report = sized(loss(big("one"), big("two"), catalogue=[lgr("large", 160, 3), MOVERS]))
    assert sum(count for _, _, count in rows(report, "lgr")) == 3
    (short,) = report["short"]
    assert (short["kind"], short["unit"], short["wanted"], short["found"]) == ("lgr", "pints_per_day", 320, 160)
    assert "equipment_short" in codes(report["cautions"])


def test_another_kind_never_stands_in() -> None:
    conventional = model("conventional", "conventional", rated_pints_per_day=500)
    report = sized(loss(big("one"), catalogue=[conventional, MOVERS]))
    assert rows(report, "conventional") == []
    assert [(each["chamber"], each["kind"], each["found"]) for each in report["short"]] == [("one", "lgr", 0)]


def test_an_empty_stock_is_short_of_everything() -> None:
    report = sized(loss(chamber(wet_room(wet_wood_floor_sqft=10)), catalogue=[]))
    assert report["mix"] == []
    assert [(each["kind"], each["unit"]) for each in report["short"]] == [
        ("lgr", "pints_per_day"),
        ("air_mover", "count"),
        ("floor_mat_kit", "count"),
    ]


def test_a_desiccant_is_chosen_by_its_process_air() -> None:
    report = sized(loss(big("one", dehumidifier="desiccant")))
    # 16,000 x 2 / 60 = 533.3 cfm, in machines of 200.
    assert [count for _, _, count in rows(report, "desiccant")] == [3]
    short = sized(loss(big("one", dehumidifier="desiccant"), catalogue=[]))["short"]
    assert ("desiccant", "cfm") in {(each["kind"], each["unit"]) for each in short}


def test_rated_and_not_derated_pints_are_what_is_covered() -> None:
    air = {"dry_bulb_f": 70, "rh_pct": 40}
    assert sized(loss(big("one", air=air)))["mix"] == sized(loss(big("one")))["mix"]
