"""
What a refrigerant dehumidifier really removes, as a share of its rating at 80 F and 60 %.

Both curves are fits to household machines: right for conventional ones, an estimate (on the safe side) for low-grain
ones, of which no public curve is known.
"""

import math
from dataclasses import dataclass
from typing import Literal

from jobs.science.psychrometrics import air_state

Refrigerant = Literal["conventional", "lgr"]


@dataclass(frozen=True, slots=True)
class Curve:
    """
    Share of rated water removal: c0 + c1 T + c2 T^2 + c3 R + c4 R^2 + c5 T R, T in C, R in percent.

    ``rating_c`` and ``rating_rh_pct`` name the point at which the curve should be 1 and nearly is.
    """

    name: str
    coefficients: tuple[float, float, float, float, float, float]
    rating_c: float
    rating_rh_pct: float
    fit_c: tuple[float, float] | None
    """Range of T that the fit covers; None where its publication states none."""
    fit_rh_pct: tuple[float, float] | None
    source: str
    confidence: Literal["published", "practice", "memory"]

    def raw(self, dry_bulb_f: float, rh_pct: float, *, clamped: bool = False) -> float:
        """The curve as published; ``clamped`` holds the inputs inside the range of the fit, where one is stated."""
        t = _celsius(dry_bulb_f)
        r = rh_pct
        if not (math.isfinite(t) and math.isfinite(r)):
            raise ValueError(f"The air is {dry_bulb_f} F and {rh_pct} %; give two finite figures.")
        if clamped and self.fit_c is not None and self.fit_rh_pct is not None:
            t = min(max(t, self.fit_c[0]), self.fit_c[1])
            r = min(max(r, self.fit_rh_pct[0]), self.fit_rh_pct[1])
        return self._at(t, r)

    def normalised(self, dry_bulb_f: float, rh_pct: float, *, clamped: bool = False) -> float:
        """The curve divided by its own value at the rating point."""
        return self.raw(dry_bulb_f, rh_pct, clamped=clamped) / self._at(self.rating_c, self.rating_rh_pct)

    def _at(self, t: float, r: float) -> float:
        c0, c1, c2, c3, c4, c5 = self.coefficients
        return c0 + c1 * t + c2 * t * t + c3 * r + c4 * r * r + c5 * t * r


def _celsius(temp_f: float) -> float:
    return (temp_f - 32) / 1.8


CURVE_A = Curve(
    name="curve A",
    coefficients=(-1.162525707, 0.02271469, -0.000113208, 0.021110538, -0.0000693034, 0.000378843),
    rating_c=_celsius(80.0),
    rating_rh_pct=60.0,
    fit_c=None,
    fit_rh_pct=None,
    source="Winkler, Christensen, Tomerlin: Laboratory test report for six ENERGY STAR dehumidifiers, NREL 2011, "
    "generic water-removal fit, as coded in NREL/OpenStudio-HPXML",
    confidence="published",
)
CURVE_B = Curve(
    name="curve B",
    coefficients=(
        -2.724878664080,
        0.100711983591,
        -0.000990538285,
        0.050053043874,
        -0.000203629282,
        -0.000341750531,
    ),
    rating_c=26.7,
    rating_rh_pct=60.0,
    fit_c=(21.0, 32.22),
    fit_rh_pct=(40.0, 80.0),
    source="EnergyPlus example input ZoneHVAC:Dehumidifier:DX, water removal curve; the OpenStudio default",
    confidence="published",
)

SATURATION_AIR = (90.0, 90.0)
"""F and percent at which makers print the largest figure; no output is taken above it."""

LGR_DEW_POINT_DROP_F = 45.0
LGR_FREEZING_F = 32.0
LGR_FLOOR_SOURCE = "trade practice: a trade article of 2008 on low-grain machines in hot air"

LABEL_TEST_F = 65.0
LABEL_TEST_RH_PCT = 60.0
LABEL_TEST_SOURCE = (
    "ENERGY STAR, dehumidifier testing and capacity: portable machines are tested at 65 F, 60 % since June 2019"
)


def curve_a(dry_bulb_f: float, rh_pct: float) -> float:
    """Curve A as published; 0.986 at 80 F and 60 %, and it may fall below zero in cool dry air."""
    return CURVE_A.raw(dry_bulb_f, rh_pct)


def curve_a_normalised(dry_bulb_f: float, rh_pct: float) -> float:
    """Curve A divided by its value at 80 F and 60 %."""
    return CURVE_A.normalised(dry_bulb_f, rh_pct)


def curve_b(dry_bulb_f: float, rh_pct: float, *, clamped: bool = False) -> float:
    """Curve B as published; fitted from 21.0 to 32.22 C and 40 to 80 %, ``clamped`` holds the inputs in there."""
    return CURVE_B.raw(dry_bulb_f, rh_pct, clamped=clamped)


def curve_b_normalised(dry_bulb_f: float, rh_pct: float, *, clamped: bool = False) -> float:
    """Curve B divided by its value at 26.7 C and 60 %."""
    return CURVE_B.normalised(dry_bulb_f, rh_pct, clamped=clamped)


def output_share(dry_bulb_f: float, rh_pct: float) -> float:
    """Share of its 80 F / 60 % rating that a refrigerant machine removes: curve A in [0, its value at 90 F / 90 %]."""
    return min(max(curve_a_normalised(dry_bulb_f, rh_pct), 0.0), curve_a_normalised(*SATURATION_AIR))


def lgr_floor_dew_point_f(dry_bulb_f: float) -> float:
    """Dew point (F) below which a low-grain machine cannot go: 45 F under its intake, never under freezing."""
    return max(LGR_FREEZING_F, dry_bulb_f - LGR_DEW_POINT_DROP_F)


def derated_pints_per_day(rated_pints_per_day: float, dry_bulb_f: float, rh_pct: float, *, kind: Refrigerant) -> float:
    """
    US pints a day that machines rated so many pints at 80 F / 60 % really remove in this air.

    :param kind: ``lgr`` gives 0 at and below its floor; an estimate there, the curve is of household machines.
    :raises ImpossibleAir: if the air cannot be.
    :raises ValueError: if the rating is below zero.
    """
    if not (math.isfinite(rated_pints_per_day) and rated_pints_per_day >= 0):
        raise ValueError(f"The rating is {rated_pints_per_day:g} pints a day; give zero or more.")
    air = air_state(dry_bulb_f, rh_pct)
    if kind == "lgr" and air.dew_point_f <= lgr_floor_dew_point_f(dry_bulb_f):
        return 0.0
    return rated_pints_per_day * output_share(dry_bulb_f, rh_pct)


def rated_from_label_pints_per_day(
    label_pints_per_day: float, test_dry_bulb_f: float = LABEL_TEST_F, test_rh_pct: float = LABEL_TEST_RH_PCT
) -> float:
    """
    The 80 F / 60 % rating of a machine whose label was measured at another air, by curve A.

    A 65 F label divides by 0.659, a 73 F one by 0.843. Store labels round more coarsely (50 against 70).

    :raises ValueError: if the label is below zero, or curve A gives nothing at the test point.
    """
    if not (math.isfinite(label_pints_per_day) and label_pints_per_day >= 0):
        raise ValueError(f"The label says {label_pints_per_day:g} pints a day; give zero or more.")
    share = curve_a_normalised(test_dry_bulb_f, test_rh_pct)
    if share <= 0:
        raise ValueError(
            f"Curve A gives no output at {test_dry_bulb_f:g} F and {test_rh_pct:g} %, so a label measured there cannot "
            "be converted; use the maker's figure at 80 F and 60 %."
        )
    return label_pints_per_day / share
