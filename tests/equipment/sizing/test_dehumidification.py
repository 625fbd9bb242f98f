# ANSI/IICRC S500:2006 to S500:2021 factor rows (low-grain and desiccant rows from memory); NREL (2011) household curve.
from __future__ import annotations

from typing import Any

import pytest

from equipment.sizing.port import size_document
from tests.equipment.sizing.losses import chamber, codes, loss, room, wet_room


def sized(volume_cuft: int, kind: str, water_class: int, air: dict[str, Any] | None = None) -> Any:
    one = room(length_ft=volume_cuft / 80, width_ft=10, height_ft=8, wet_floor_sqft=1)
    document = loss(chamber(one, dehumidifier=kind, air=air, **{"class": water_class}))
    return size_document(document).as_document()


def need(volume_cuft: int, kind: str, water_class: int) -> Any:
    found = sized(volume_cuft, kind, water_class)["chambers"][0]["dehumidification"]
    return found.get("pints_per_day", found.get("process_cfm"))


@pytest.mark.parametrize(
    ("volume", "kind", "by_class"),
    [
        (3200, "conventional", [32, 80, 106.7]),
        (3200, "lgr", [32, 64, 80, 80]),
        (16000, "desiccant", [266.7, 533.3, 800, 533.3]),
    ],
)
def test_the_factor_rows(volume: int, kind: str, by_class: list[float]) -> None:
    found = [need(volume, kind, number) for number, _ in enumerate(by_class, start=1)]
    assert found == pytest.approx(by_class, abs=0.1)


@pytest.mark.parametrize(("kind", "expected"), [("lgr", 23.04), ("conventional", 28.8), ("desiccant", 38.4)])
def test_a_room_of_1152_cubic_feet(kind: str, expected: float) -> None:
    report = size_document(loss(chamber(wet_room(), dehumidifier=kind))).as_document()
    found = report["chambers"][0]["dehumidification"]
    key = "process_cfm" if kind == "desiccant" else "pints_per_day"
    assert found[key] == pytest.approx(expected, abs=0.001)
    assert set(found) == {"kind", key, "factor", "derated_pints_per_day"}


def test_three_units_of_130_for_320_pints() -> None:
    report = sized(16000, "lgr", 2)
    assert report["chambers"][0]["dehumidification"]["pints_per_day"] == 320
    assert [row["count"] for row in report["mix"] if row["kind"] == "lgr"] == [3]


def test_conventional_in_class_4_is_refused_and_the_rest_goes_on() -> None:
    report = size_document(loss(chamber(wet_room(), dehumidifier="conventional", bound_water=True))).as_document()
    assert report["chambers"][0]["dehumidification"] is None
    refusal = next(each for each in report["refusals"] if each["code"] == "conventional_class_4")
    assert refusal["where"] == "chambers[0].dehumidifier"
    assert "stalls" in refusal["message"]
    assert report["chambers"][0]["air_movers"]["planned"] == 4


@pytest.mark.parametrize(
    ("temp", "humidity", "share"),
    [(80, 60, 1), (73, 60, 0.8428), (70, 60, 0.7744), (75, 40, 0.4169), (80, 80, 1.4363), (90, 60, 1.2185)],
)
def test_derating_follows_the_published_curve(temp: int, humidity: int, share: float) -> None:
    report = sized(3200, "conventional", 2, {"dry_bulb_f": temp, "rh_pct": humidity})
    derated = report["chambers"][0]["dehumidification"]["derated_pints_per_day"]
    assert derated == pytest.approx(80 * share, rel=0.005)


@pytest.mark.parametrize(("temp", "humidity"), [(33, 1), (40, 20), (120, 1), (33, 100), (120, 100), (100, 99)])
def test_derating_stays_between_nothing_and_its_value_at_saturation(temp: int, humidity: int) -> None:
    at_most = sized(3200, "conventional", 2, {"dry_bulb_f": 90, "rh_pct": 90})["chambers"][0]["dehumidification"]
    found = sized(3200, "conventional", 2, {"dry_bulb_f": temp, "rh_pct": humidity})["chambers"][0]["dehumidification"]
    assert 0 <= found["derated_pints_per_day"] <= at_most["derated_pints_per_day"]


@pytest.mark.parametrize(
    ("temp", "humidity", "stalls"),
    # Dew points: 95 F at 21 % 49.5 F (floor 50), at 23 % 51.9 F; 50 F at 48 % 31.1 F (floor 32), at 52 % 33.1 F.
    [(95, 21, True), (95, 23, False), (50, 48, True), (50, 55, False)],
)
def test_a_low_grain_machine_removes_nothing_below_its_floor(temp: int, humidity: int, stalls: bool) -> None:
    report = sized(3200, "lgr", 2, {"dry_bulb_f": temp, "rh_pct": humidity})
    derated = report["chambers"][0]["dehumidification"]["derated_pints_per_day"]
    assert (derated == 0) is stalls
    assert ("lgr_floor" in codes(report["cautions"])) is stalls


def test_no_derating_without_air_or_for_a_desiccant() -> None:
    assert sized(3200, "lgr", 2)["chambers"][0]["dehumidification"]["derated_pints_per_day"] is None
    found = sized(3200, "desiccant", 2, {"dry_bulb_f": 80, "rh_pct": 60})["chambers"][0]
    assert found["dehumidification"]["derated_pints_per_day"] is None


def test_air_figures_follow_the_elevation() -> None:
    def gpp(elevation_ft: int) -> Any:
        air = {"dry_bulb_f": 70, "rh_pct": 50}
        document = loss(chamber(wet_room(), air=air), elevation_ft=elevation_ft)
        return size_document(document).as_document()["chambers"][0]["air"]

    assert gpp(0)["gpp"] == pytest.approx(54.5, rel=0.005)
    assert gpp(5000)["gpp"] == pytest.approx(65.6, rel=0.005)
    assert gpp(0)["dew_point_f"] == pytest.approx(50.5, abs=0.1)
    assert gpp(0)["vapor_pressure_inhg"] == pytest.approx(0.370, abs=0.002)
