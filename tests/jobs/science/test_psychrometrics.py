"""Humid air against CoolProp, against ASHRAE's published points, and there and back again."""

import math
import sys

import psychrolib
import pytest
from CoolProp.HumidAirProp import HAPropsSI
from hypothesis import given
from hypothesis import strategies as st

from jobs.science import psychrometrics
from jobs.science.psychrometrics import (
    STANDARD_AIR_FT3_LB,
    Air,
    ImpossibleAir,
    air_state,
    grain_depression,
    grain_depression_for,
    pressure_psia,
    rh_from_dew_point,
    rh_from_gpp,
    rh_from_wet_bulb,
    saturation_pressure_psia,
    water_removed_pints_per_day,
)
from tests.golden import table

PA_PER_PSI = 6894.757293168
DRY_BULBS_F = range(35, 111, 5)
HUMIDITIES_PCT = range(5, 96, 5)
ELEVATIONS_FT = (0, 1000, 2000, 3000, 4000, 5000, 6000)


def kelvin(temp_f: float) -> float:
    return (temp_f - 32) / 1.8 + 273.15


@pytest.mark.parametrize("elevation_ft", ELEVATIONS_FT)
def test_grid_against_coolprop(elevation_ft: int) -> None:
    """CoolProp takes air as a real gas, which by itself makes up to 0.5 % of humidity ratio."""
    assert len(DRY_BULBS_F) * len(HUMIDITIES_PCT) * len(ELEVATIONS_FT) >= 2000
    pressure_pa = pressure_psia(elevation_ft) * PA_PER_PSI
    for dry_bulb_f in DRY_BULBS_F:
        for rh_pct in HUMIDITIES_PCT:
            air = air_state(dry_bulb_f, rh_pct, elevation_ft)
            at = ("T", kelvin(dry_bulb_f), "P", pressure_pa, "R", rh_pct / 100)
            assert air.humidity_ratio == pytest.approx(HAPropsSI("W", *at), rel=0.006), (dry_bulb_f, rh_pct)
            # ft3 per lb of dry air from m3 per kg.
            assert air.specific_volume_ft3_lb == pytest.approx(HAPropsSI("V", *at) * 16.01846, rel=0.006)
            assert kelvin(air.dew_point_f) == pytest.approx(HAPropsSI("D", *at), abs=0.12)


@pytest.mark.parametrize("row", table("humid_air"), ids=lambda row: row["row"])
def test_rows_at_sea_level(row: dict[str, str]) -> None:
    air = air_state(float(row["dry_bulb_f"]), float(row["rh_pct"]))
    assert air.humidity_ratio == pytest.approx(float(row["humidity_ratio"]), rel=0.0005)
    assert air.gpp == pytest.approx(float(row["gpp"]), abs=0.051)
    assert air.dew_point_f == pytest.approx(float(row["dew_point_f"]), abs=0.051)
    assert air.wet_bulb_f == pytest.approx(float(row["wet_bulb_f"]), abs=0.051)
    assert air.vapor_pressure_inhg == pytest.approx(float(row["vapor_pressure_inhg"]), abs=0.00051)
    assert air.gpp == pytest.approx(float(row["coolprop_gpp"]), rel=0.006)


@pytest.mark.parametrize("row", table("ashrae_points"), ids=lambda row: f"{row['quantity']} {row['at']}")
def test_points_published_by_ashrae(row: dict[str, str]) -> None:
    at = float(row["at"])
    ours = {
        "saturation_pressure": saturation_pressure_psia,
        "saturation_ratio": lambda temp_f: air_state(temp_f, 100).humidity_ratio,
        "standard_pressure": pressure_psia,
    }[row["quantity"]](at)
    assert ours == pytest.approx(float(row["value"]), rel=float(row["relative_tolerance"]))


def test_example_1_of_ashrae() -> None:
    """100 F dry bulb, 65 F wet bulb: W 0.00523, dew point 40 F, RH 13 %, v 14.22 (read off the chart)."""
    rh_pct = rh_from_wet_bulb(100, 65)
    air = air_state(100, rh_pct)
    assert rh_pct == pytest.approx(13, abs=0.5)
    assert air.dew_point_f == pytest.approx(40, abs=0.1)
    assert air.humidity_ratio == pytest.approx(0.00523, rel=0.01)
    assert air.specific_volume_ft3_lb == pytest.approx(14.22, rel=0.001)


def test_elevation_counts() -> None:
    assert air_state(70, 50, 5000).gpp == pytest.approx(65.6, abs=0.1)
    assert air_state(70, 50).gpp == pytest.approx(54.5, abs=0.1)


def test_winter_air_and_very_dry_air_hold_about_as_little() -> None:
    assert air_state(0, 100).gpp == pytest.approx(5.5, abs=0.1)
    assert air_state(80, 4).gpp == pytest.approx(6.0, abs=0.1)


dry_bulbs = st.floats(33, 120)
humidities = st.floats(2, 100)
elevations = st.floats(0, 6000)


@given(dry_bulbs, humidities, elevations)
def test_humidity_there_and_back(dry_bulb_f: float, rh_pct: float, elevation_ft: float) -> None:
    air = air_state(dry_bulb_f, rh_pct, elevation_ft)
    assert rh_from_gpp(dry_bulb_f, air.gpp, elevation_ft) == pytest.approx(rh_pct, abs=1e-6)
    assert rh_from_dew_point(dry_bulb_f, air.dew_point_f) == pytest.approx(rh_pct, rel=0.001)
    # A hundredth of a degree of wet bulb is a few hundredths of a percent.
    assert rh_from_wet_bulb(dry_bulb_f, air.wet_bulb_f, elevation_ft) == pytest.approx(rh_pct, abs=0.1)


@given(dry_bulbs, st.floats(2, 99), elevations)
def test_temperatures_stand_in_their_order_and_more_humidity_is_more_water(
    dry_bulb_f: float, rh_pct: float, elevation_ft: float
) -> None:
    air, damper = air_state(dry_bulb_f, rh_pct, elevation_ft), air_state(dry_bulb_f, rh_pct + 1, elevation_ft)
    assert air.dew_point_f <= air.wet_bulb_f + 0.01 <= air.dry_bulb_f + 0.02
    assert damper.gpp > air.gpp
    assert damper.dew_point_f > air.dew_point_f


@pytest.mark.parametrize(
    ("dry_bulb_f", "rh_pct", "elevation_ft", "field"),
    [
        (70, 101, 0, "rh_pct"),
        (70, 0, 0, "rh_pct"),
        (70, -5, 0, "rh_pct"),
        (70, math.nan, 0, "rh_pct"),
        (500, 50, 0, "dry_bulb_f"),
        (-100, 50, 0, "dry_bulb_f"),
        (math.inf, 50, 0, "dry_bulb_f"),
        (70, 50, 40000, "elevation_ft"),
        (199, 100, 16000, "rh_pct"),
    ],
)
def test_impossible_air_is_refused_by_field(dry_bulb_f: float, rh_pct: float, elevation_ft: float, field: str) -> None:
    with pytest.raises(ImpossibleAir, match=r"give|read the instrument") as refused:
        air_state(dry_bulb_f, rh_pct, elevation_ft)
    assert refused.value.field == field


def test_readings_that_contradict_each_other_are_refused() -> None:
    with pytest.raises(ImpossibleAir, match="above the dry bulb"):
        rh_from_dew_point(70, 71)
    with pytest.raises(ImpossibleAir, match="above the dry bulb"):
        rh_from_wet_bulb(70, 70.5)
    with pytest.raises(ImpossibleAir, match="wick"):
        rh_from_wet_bulb(110, 40)
    with pytest.raises(ImpossibleAir, match="not possible"):
        rh_from_gpp(70, 200)


@pytest.mark.parametrize(("specific_volume", "pints"), [(STANDARD_AIR_FT3_LB, 88.7), (14.0, 84.5)])
def test_water_removed(specific_volume: float, pints: float) -> None:
    assert water_removed_pints_per_day(300, 20, specific_volume) == pytest.approx(pints, rel=0.005)
    assert grain_depression_for(pints, 300, specific_volume) == pytest.approx(20, rel=0.005)


def test_grain_depression_is_inlet_less_outlet() -> None:
    inlet, outlet = air_state(80, 60), air_state(95, 25)
    assert grain_depression(inlet, outlet) == pytest.approx(inlet.gpp - outlet.gpp)
    assert grain_depression(outlet, inlet) < 0


def test_water_removed_refuses_what_cannot_be() -> None:
    with pytest.raises(ValueError, match="zero or more"):
        water_removed_pints_per_day(-1, 20)
    with pytest.raises(ValueError, match="more than zero"):
        water_removed_pints_per_day(300, 20, 0)
    with pytest.raises(ValueError, match="above zero cfm"):
        grain_depression_for(50, 0)


def test_another_users_unit_system_does_not_reach_us() -> None:
    before = air_state.__wrapped__(80.0, 60.0)
    psychrolib.SetUnitSystem(psychrolib.SI)
    try:
        assert isinstance(before, Air)
        assert air_state.__wrapped__(80.0, 60.0) == before
    finally:
        psychrolib.SetUnitSystem(psychrolib.IP)
    assert sys.modules["psychrolib"] is not psychrometrics._psy
