"""Equilibrium moisture against the Wood Handbook in both temperature scales."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.science.wood import (
    OutsideTable,
    equilibrium_moisture_pct,
    equilibrium_moisture_pct_celsius,
    equilibrium_rh_pct,
    red_oak_timelag_days,
    saturation_pressure_mmhg,
    share_of_the_way,
)
from tests.golden import table


@pytest.mark.parametrize("row", table("wood_equilibrium"), ids=lambda row: row["row"])
def test_printed_tables_in_both_scales(row: dict[str, str]) -> None:
    temp_f, rh_pct = float(row["temp_f"]), float(row["rh_pct"])
    printed = pytest.approx(float(row["printed_pct"]), abs=float(row["tolerance_pct"]))
    assert equilibrium_moisture_pct(temp_f, rh_pct) == printed
    assert equilibrium_moisture_pct_celsius((temp_f - 32) / 1.8, rh_pct) == printed


@pytest.mark.parametrize("row", table("wood_equation"), ids=lambda row: f"{row['temp_f']} F {row['rh_pct']} %")
def test_equation(row: dict[str, str]) -> None:
    temp_f, rh_pct = float(row["temp_f"]), float(row["rh_pct"])
    assert equilibrium_moisture_pct(temp_f, rh_pct) == pytest.approx(float(row["moisture_pct"]), abs=0.0051)


@given(st.floats(30, 120), st.floats(5, 95))
def test_the_two_scales_agree(temp_f: float, rh_pct: float) -> None:
    in_celsius = equilibrium_moisture_pct_celsius((temp_f - 32) / 1.8, rh_pct)
    assert equilibrium_moisture_pct(temp_f, rh_pct) == pytest.approx(in_celsius, abs=0.1)


@given(st.floats(30, 270), st.floats(5, 95))
def test_humidity_there_and_back(temp_f: float, rh_pct: float) -> None:
    assert equilibrium_rh_pct(temp_f, equilibrium_moisture_pct(temp_f, rh_pct)) == pytest.approx(rh_pct, abs=1e-5)


@pytest.mark.parametrize(
    ("moisture_pct", "rh_pct"),
    [(6, 28.9), (8, 42.0), (9, 48.5), (10, 54.6), (12, 65.2), (15, 77.0), (16, 80.0), (19, 87.2)],
)
def test_inverse_at_70_f(moisture_pct: float, rh_pct: float) -> None:
    assert equilibrium_rh_pct(70, moisture_pct) == pytest.approx(rh_pct, abs=0.1)


def test_nothing_is_stretched_beyond_the_table() -> None:
    for temp_f, rh_pct in ((29, 50), (271, 50), (70, 4), (70, 96), (float("nan"), 50)):
        with pytest.raises(OutsideTable, match="give"):
            equilibrium_moisture_pct(temp_f, rh_pct)
    with pytest.raises(OutsideTable, match="no equilibrium"):
        equilibrium_rh_pct(70, 30)


@pytest.mark.parametrize(("temp_f", "mmhg", "days"), [(70, 18.71, 7.68), (80, 26.15, 6.82)])
def test_red_oak_of_three_quarters_of_an_inch(temp_f: float, mmhg: float, days: float) -> None:
    assert saturation_pressure_mmhg(temp_f) == pytest.approx(mmhg, rel=0.01)
    assert red_oak_timelag_days(0.75, temp_f) == pytest.approx(days, rel=0.01)


def test_saturation_at_150_f_as_published_beside_the_red_oak_constants() -> None:
    assert saturation_pressure_mmhg(150) == pytest.approx(191.8194885, rel=0.01)


def test_thickness_must_be_above_zero() -> None:
    with pytest.raises(ValueError, match="more than zero"):
        red_oak_timelag_days(0, 70)


def test_timelags() -> None:
    assert 100 * share_of_the_way(1) == pytest.approx(63.2, abs=0.1)
    assert 100 * share_of_the_way(3) == pytest.approx(95.0, abs=0.1)
    assert 100 * share_of_the_way(4) == pytest.approx(98.2, abs=0.1)
