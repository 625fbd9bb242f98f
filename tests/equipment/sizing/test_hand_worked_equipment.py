"""
Machines, circuits and the older rule worked by hand (NFPA 70 at 80 %; trade practice of 10 to 16 ft of wall a mover).

Every expected number was worked on paper, never taken from the program.
"""

from __future__ import annotations

import json
from typing import Any

import pytest

from equipment.sizing.port import run
from equipment.sizing.refused import LossRefused
from tests.equipment.sizing.losses import chamber, loss, model, room, wet_room


def sized(*chambers: dict[str, Any], **changes: Any) -> dict[str, Any]:
    report: dict[str, Any] = json.loads(run(json.dumps(loss(*chambers, **changes))))
    return report


def mix_of(report: dict[str, Any]) -> list[tuple[str | None, str, int]]:
    return [(row["chamber"], row["model"], row["count"]) for row in report["mix"]]


def hall(cuft: int, name: str = "hall", **changes: Any) -> dict[str, Any]:
    """A chamber of so many cubic feet, class 2 by the lead, with no floor wet: no air mover but the room's one."""
    of = room(length_ft=cuft / 80, width_ft=10, wet_lower_wall_sqft=1)
    return chamber(of, name=name, **({"class": 2} | changes))


def lgr(name: str, pints: float, amps: float, free: int = 9) -> dict[str, Any]:
    return model(name, "lgr", rated_pints_per_day=pints, running_a=amps, free=free)


MOVER = model("mover", "air_mover", running_a=1.9, free=99)


@pytest.mark.parametrize(
    ("need_cuft", "stock", "expected"),
    [
        # 16,000 cu ft: 320 pints; three of 130 are 390
        (16000, [lgr("a", 130, 7.5)], [("a", 3)]),
        # fewest units first, although the small ones draw less
        (5000, [lgr("big", 100, 12), lgr("small", 50, 2)], [("big", 1)]),
        # then amps: 70 + 70 and 130 + 10 both are two units for 140
        (7000, [lgr("a", 70, 8), lgr("b", 70, 6)], [("b", 2)]),
        # then surplus: both one unit of 6 A
        (4000, [lgr("a", 130, 6), lgr("b", 90, 6)], [("b", 1)]),
        # then the name
        (4000, [lgr("b", 90, 6), lgr("a", 90, 6)], [("a", 1)]),
        # a mixed pair beats two of the same by amps: 180 wanted, 130 + 70 at 12 A against 130 + 130 at 16 A
        (9000, [lgr("a", 130, 8), lgr("b", 70, 4)], [("a", 1), ("b", 1)]),
        # exactly covered is covered
        (5000, [lgr("a", 50, 3)], [("a", 2)]),
        # a hair more than two carry
        (5001, [lgr("a", 50, 3)], [("a", 3)]),
    ],
)
def test_the_mix_of_one_chamber(need_cuft: int, stock: list[dict[str, Any]], expected: list[tuple[str, int]]) -> None:
    report = sized(hall(need_cuft), catalogue=[*stock, MOVER])

    assert [(m, n) for _, m, n in mix_of(report) if m != "mover"] == expected
    assert report["short"] == []


def test_free_stock_is_shared_between_chambers() -> None:
    """2,500 cu ft want 50 pints, 6,500 want 130: the only 130-pint machine goes to the large chamber."""
    stock = [lgr("large", 130, 8, free=1), lgr("small", 50, 4, free=1), MOVER]
    report = sized(hall(2500, "den"), hall(6500, "cellar"), catalogue=stock)

    assert [row for row in mix_of(report) if row[1] != "mover"] == [("den", "small", 1), ("cellar", "large", 1)]
    assert report["short"] == []


def test_another_kind_never_stands_in() -> None:
    report = sized(hall(5000), catalogue=[model("dry", "desiccant", process_cfm=900), MOVER])

    (short,) = report["short"]
    assert (short["chamber"], short["kind"], short["unit"]) == ("hall", "lgr", "pints_per_day")
    assert (short["wanted"], short["found"]) == (100, 0)


def test_what_is_short_still_takes_what_there_is() -> None:
    """100 pints wanted, one machine of 70; four air movers of the one room and three free."""
    report = sized(
        chamber(wet_room(length_ft=62.5, width_ft=10, wet_floor_sqft=180), **{"class": 2}),
        catalogue=[lgr("a", 70, 6, free=1), model("mover", "air_mover", running_a=1.9, free=3)],
    )  # fmt: skip

    assert mix_of(report) == [("ground floor", "a", 1), ("ground floor", "mover", 3)]
    assert [(row["kind"], row["unit"], row["wanted"], row["found"]) for row in report["short"]] == [
        ("lgr", "pints_per_day", 100, 70), ("air_mover", "count", 4, 3),
    ]  # fmt: skip


def powered(circuits: list[tuple[float, float]], units: dict[str, tuple[float, int]]) -> dict[str, Any]:
    """Units that the lead adds to a dry loss: model -> (amps, count)."""
    stock = [model(name, "heater", running_a=amps, free=0) for name, (amps, _) in units.items()]
    also = [{"model": name, "count": count} for name, (_, count) in units.items()]
    branches = [{"breaker_a": breaker, "reserved_a": reserved} for breaker, reserved in circuits]
    power: dict[str, Any] = sized(chamber(room()), catalogue=stock, also=also, circuits=branches)["power"]
    return power


@pytest.mark.parametrize(
    ("circuits", "units", "limits", "used", "unplaced"),
    [
        ([(15, 0)], {"m": (1.9, 6)}, [12], [11.4], {}),
        ([(15, 0)], {"m": (1.9, 7)}, [12], [11.4], {"m": 1}),
        ([(20, 0)], {"a": (8.3, 1), "b": (4.7, 1), "c": (1.5, 1)}, [16], [14.5], {}),
        # 16.4 A do not fit: three units do, and the heaviest three are 8.3 + 4.7 + 1.9
        ([(20, 0)], {"a": (8.3, 1), "b": (4.7, 1), "c": (1.5, 1), "d": (1.9, 1)}, [16], [14.9], {"c": 1}),
        # at 15 A two of the first three fit, the most amps of two within 12 are 8.3 + 1.5
        ([(15, 0)], {"a": (8.3, 1), "b": (4.7, 1), "c": (1.5, 1)}, [12], [9.8], {"b": 1}),
        # what is reserved comes off after the 80 %
        ([(20, 4)], {"m": (4, 4)}, [12], [12], {"m": 1}),
        ([(15, 12)], {"m": (1, 1)}, [0], [0], {"m": 1}),
        ([(15, 15)], {"m": (1, 1)}, [-3], [0], {"m": 1}),
        # exactly full, exact decimals: 3 x 4 A on 12, 16 / 1.6 = 10
        ([(20, 0)], {"m": (1.6, 11)}, [16], [16], {"m": 1}),
        # an empty circuit is shown
        ([(15, 0), (20, 0)], {}, [12, 16], [0, 0], {}),
    ],
)  # fmt: skip
def test_circuits(
    circuits: list[tuple[float, float]],
    units: dict[str, tuple[float, int]],
    limits: list[float],
    used: list[float],
    unplaced: dict[str, int],
) -> None:
    power = powered(circuits, units)

    assert [row["limit_a"] for row in power["circuits"]] == limits
    assert [row["used_a"] for row in power["circuits"]] == used
    assert power["unplaced"] == unplaced
    assert power["total_a"] == pytest.approx(sum(amps * count for amps, count in units.values()))
    assert power["proven"]


def test_units_added_by_the_lead_count_for_power_not_for_need() -> None:
    report = sized(hall(2500), also=[{"model": "a", "count": 2}], catalogue=[lgr("a", 50, 5), MOVER])

    assert mix_of(report) == [("hall", "a", 1), ("hall", "mover", 1)]
    assert report["power"]["total_a"] == pytest.approx(3 * 5 + 1.9)
    assert report["power"]["circuits"] == []


@pytest.mark.parametrize(
    ("of_room", "expected"),
    [
        ({"lower_wall_only_ft": 27}, (2, 3, 3)),  # 27 / 16, / 10, / 12
        ({"wet_lower_wall_sqft": 96}, (3, 5, 4)),  # 48 ft: / 16 = 3, / 10 = 4.8, / 12 = 4
        ({"wet_lower_wall_sqft": 50}, (2, 3, 3)),  # 25 ft: 1.56, 2.5, 2.08
        ({"wet_floor_sqft": 144}, (0, 0, 0)),
        # what is told in feet comes before the area
        ({"lower_wall_only_ft": 12, "wet_lower_wall_sqft": 96}, (1, 2, 1)),
    ],
)
def test_the_older_rule(of_room: dict[str, Any], expected: tuple[int, int, int]) -> None:
    found = sized(chamber(room(**of_room), **{"class": 2}), rules="linear-feet")["chambers"][0]["air_movers"]

    assert (found["low"], found["high"], found["planned"]) == expected


def test_the_older_rule_asks_for_a_class() -> None:
    with pytest.raises(LossRefused) as refused:
        sized(chamber(wet_room()), rules="linear-feet")

    assert refused.value.where == "chambers[0].class"


def test_a_house_of_unknown_age_has_the_lead_caution() -> None:
    def codes(year: int | None) -> set[str]:
        return {row["code"] for row in sized(chamber(wet_room()), year_built=year)["cautions"]}

    assert "lead_paint" in codes(None) & codes(1977)
    assert "lead_paint" not in codes(1978)


def test_painted_wall_of_a_1965_house_without_emergency_is_refused() -> None:
    def refused(area: float, year: int) -> list[str]:
        report = sized(chamber(wet_room(painted_sqft_disturbed=area)), year_built=year, emergency=False)
        return [row["where"] for row in report["refusals"]]

    assert refused(10, 1965) == ["chambers[0].rooms[0].painted_sqft_disturbed"]
    assert refused(10, 1985) == refused(5, 1965) == []


@pytest.mark.parametrize(("distance", "refusals"), [(15, 1), (19.9, 1), (20, 0), (None, 0)])
def test_a_generator_stands_20_ft_away(distance: float | None, refusals: int) -> None:
    assert len(sized(chamber(wet_room()), generator_distance_ft=distance)["refusals"]) == refusals


@pytest.mark.parametrize(
    ("source", "planned"),
    [("supply_line", 4), ("appliance", 4), ("toilet_bowl", 4), ("drain_backup", 0), ("sewage", 0), ("ground_water", 0)],
)
def test_category_suggested_from_the_source(source: str, planned: int) -> None:
    report = sized(chamber(wet_room()), category=None, loss_source=source)

    assert report["chambers"][0]["air_movers"]["planned"] == planned


ROOM = "chambers[0].rooms[0]"


@pytest.mark.parametrize(
    ("of_room", "where"),
    [
        ({"length_ft": 1000.01}, f"{ROOM}.length_ft"),
        ({"length_ft": -1}, f"{ROOM}.length_ft"),
        ({"height_ft": 100.5}, f"{ROOM}.height_ft"),
        ({"floor_sqft": 144}, f"{ROOM}.length_ft"),
        ({"length_ft": None}, f"{ROOM}.length_ft"),
        ({"width_ft": None, "length_ft": None}, f"{ROOM}.length_ft"),
        ({"wet_floor_sqft": 144.1}, f"{ROOM}.wet_floor_sqft"),
        ({"wet_lower_wall_sqft": 96.1}, f"{ROOM}.wet_lower_wall_sqft"),
        ({"wet_upper_wall_sqft": 288.1}, f"{ROOM}.wet_upper_wall_sqft"),
        ({"wet_ceiling_sqft": 144.1}, f"{ROOM}.wet_ceiling_sqft"),
        ({"wet_wood_floor_sqft": 144.1}, f"{ROOM}.wet_wood_floor_sqft"),
        ({"lower_wall_only_ft": 10, "wet_floor_sqft": 20.1}, f"{ROOM}.wet_floor_sqft"),
        ({"lower_wall_only_ft": 10, "wet_upper_wall_sqft": 1}, f"{ROOM}.wet_upper_wall_sqft"),
        ({"lower_wall_only_ft": 10, "wet_ceiling_sqft": 1}, f"{ROOM}.wet_ceiling_sqft"),
        ({"count": 0}, f"{ROOM}.count"),
        ({"name": " "}, f"{ROOM}.name"),
        ({"offsets_over_18in": 1.5}, f"{ROOM}.offsets_over_18in"),
        ({"wet_floor_sqft": True}, f"{ROOM}.wet_floor_sqft"),
        ({"wet_floor_sqft": "12"}, f"{ROOM}.wet_floor_sqft"),
        ({"materials": [{"material": "gold", "area_sqft": 1, "covering": "none"}]}, f"{ROOM}.materials[0].material"),
        ({"colour": 1}, f"{ROOM}.colour"),
    ],
)
def test_an_impossible_room_is_refused_where_it_is(of_room: dict[str, Any], where: str) -> None:
    with pytest.raises(LossRefused) as refused:
        sized(chamber(room(**of_room)))

    assert refused.value.where == where


@pytest.mark.parametrize(
    ("changes", "where"),
    [
        ({"format": 2}, "format"),
        ({"rules": "ghost"}, "rules"),
        ({"category": 4}, "category"),
        ({"circuits": [{"breaker_a": 15, "reserved_a": 15.1}]}, "circuits[0].reserved_a"),
        ({"also": [{"model": "ghost", "count": 1}]}, "also[0].model"),
        ({"catalogue": [MOVER, MOVER]}, "catalogue[1].model"),
        ({"chambers": [chamber(room()), chamber(room())]}, "chambers[1].name"),
        ({"chambers": [chamber(room(), room())]}, "chambers[0].rooms[1].name"),
        ({"chambers": [chamber(room(), air={"dry_bulb_f": 32.9, "rh_pct": 50})]}, "chambers[0].air.dry_bulb_f"),
        ({"chambers": [chamber(room(), air={"dry_bulb_f": 120.1, "rh_pct": 50})]}, "chambers[0].air.dry_bulb_f"),
        ({"chambers": [chamber(room(), air={"dry_bulb_f": 70, "rh_pct": 0.9})]}, "chambers[0].air.rh_pct"),
        ({"chambers": [chamber(room(), air={"dry_bulb_f": 70, "rh_pct": 100.1})]}, "chambers[0].air.rh_pct"),
        ({"mould_sqft": -1}, "mould_sqft"),
        ({"hours_wet": -1}, "hours_wet"),
        ({"year_built": 1965.5}, "year_built"),
    ],
)
def test_an_impossible_loss_is_refused_where_it_is(changes: dict[str, Any], where: str) -> None:
    with pytest.raises(LossRefused) as refused:
        run(json.dumps(loss(chamber(room())) | changes))

    assert refused.value.where == where


@pytest.mark.parametrize("air", [{"dry_bulb_f": 33, "rh_pct": 1}, {"dry_bulb_f": 120, "rh_pct": 100}])
def test_the_limits_themselves_are_possible(air: dict[str, float]) -> None:
    edge = room(length_ft=1000, width_ft=1000, height_ft=100, wet_floor_sqft=1_000_000, wet_lower_wall_sqft=8000)

    found = sized(chamber(edge, air=air))["chambers"][0]

    assert (found["volume_cuft"], found["surface_sqft"]) == (100_000_000, 2_400_000)
    assert found["air_movers"] == {"low": 14287, "high": 20001, "planned": 16668}
