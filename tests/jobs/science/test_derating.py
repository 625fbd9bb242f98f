"""Real output against the published coefficients, and the clamps around them."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.science.derating import (
    curve_a,
    curve_a_normalised,
    curve_b,
    curve_b_normalised,
    derated_pints_per_day,
    lgr_floor_dew_point_f,
    output_share,
    rated_from_label_pints_per_day,
)
from jobs.science.psychrometrics import air_state
from tests.golden import table


@pytest.mark.parametrize("row", table("dehumidifier_output"), ids=lambda row: row["row"])
def test_published_curves(row: dict[str, str]) -> None:
    air = float(row["dry_bulb_f"]), float(row["rh_pct"])
    assert curve_a(*air) == pytest.approx(float(row["curve_a"]), rel=0.005)
    assert curve_a_normalised(*air) == pytest.approx(float(row["curve_a_normalised"]), rel=0.005)
    assert curve_b(*air) == pytest.approx(float(row["curve_b"]), rel=0.005)
    assert curve_b_normalised(*air) == pytest.approx(float(row["curve_b_normalised"]), rel=0.005)
    assert 130 * output_share(*air) == pytest.approx(float(row["pints_of_130"]), rel=0.005)


def test_curve_b_is_held_at_the_edge_of_its_fit() -> None:
    assert curve_b(110, 90, clamped=True) == curve_b(32.22 * 1.8 + 32, 80, clamped=True)
    assert curve_b(60, 20, clamped=True) == pytest.approx(curve_b(21 * 1.8 + 32, 40))
    assert curve_b_normalised(26.7 * 1.8 + 32, 60) == pytest.approx(1)


def test_output_is_clamped_to_nothing_and_to_saturation() -> None:
    assert curve_a_normalised(40, 20) < 0
    assert output_share(40, 20) == 0
    assert output_share(110, 95) == output_share(90, 90) == curve_a_normalised(90, 90)


@given(st.floats(33, 120), st.floats(1, 99))
def test_damper_air_never_gives_less(dry_bulb_f: float, rh_pct: float) -> None:
    assert output_share(dry_bulb_f, rh_pct + 1) >= output_share(dry_bulb_f, rh_pct)


@pytest.mark.parametrize(("dry_bulb_f", "floor_f"), [(95, 50), (77, 32), (70, 32), (110, 65)])
def test_the_floor_of_low_grain_machines(dry_bulb_f: float, floor_f: float) -> None:
    assert lgr_floor_dew_point_f(dry_bulb_f) == floor_f


@given(st.floats(60, 115), st.floats(5, 95))
def test_a_low_grain_machine_gives_nothing_at_its_floor_and_the_curve_above(dry_bulb_f: float, rh_pct: float) -> None:
    derated = derated_pints_per_day(100, dry_bulb_f, rh_pct, kind="lgr")
    if air_state(dry_bulb_f, rh_pct).dew_point_f <= lgr_floor_dew_point_f(dry_bulb_f):
        assert derated == 0
    else:
        assert derated == pytest.approx(100 * output_share(dry_bulb_f, rh_pct))


def test_a_conventional_machine_has_no_floor_of_dew_point() -> None:
    # 110 F and 20 % is a dew point of 60 F, under the floor of 65 F.
    assert derated_pints_per_day(100, 110, 20, kind="lgr") == 0
    assert derated_pints_per_day(100, 110, 20, kind="conventional") == pytest.approx(100 * output_share(110, 20)) != 0


def test_labels_of_another_test_air() -> None:
    assert rated_from_label_pints_per_day(50) == pytest.approx(75.9, rel=0.01)
    assert curve_a_normalised(65, 60) == pytest.approx(0.659, abs=0.0005)
    assert curve_a_normalised(73, 60) == pytest.approx(0.843, abs=0.0005)
    assert rated_from_label_pints_per_day(50, 80, 60) == pytest.approx(50)


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(ValueError, match="zero or more"):
        derated_pints_per_day(-1, 70, 50, kind="lgr")
    with pytest.raises(ValueError, match="cannot be converted"):
        rated_from_label_pints_per_day(50, 35, 10)
    with pytest.raises(ValueError, match="finite"):
        curve_a(math.nan, 50)
