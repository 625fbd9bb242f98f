"""Wood and the air around it: the moisture it comes to rest at, and how slowly."""

import math
from dataclasses import dataclass

from jobs.science.psychrometrics import saturation_pressure_psia

MMHG_PER_PSI = 51.71493
EMC_SOURCE = "USDA Wood Handbook (FPL-GTR-282, 2021), equation 4-5 and table 4-2; Simpson 1973"
RED_OAK_SOURCE = "Wikipedia, Wood drying: red oak constants"

TABLE_F = (30.0, 270.0)
TABLE_RH_PCT = (5.0, 95.0)


class OutsideTable(ValueError):
    """Air outside the published table of equilibrium moisture; the equation is not to be stretched beyond it."""

    code = "outside_equilibrium_table"


@dataclass(frozen=True, slots=True)
class _Terms:
    """Each row gives (constant, linear, square) in the temperature of its scale."""

    w: tuple[float, float, float]
    k: tuple[float, float, float]
    k1: tuple[float, float, float]
    k2: tuple[float, float, float]


_FAHRENHEIT = _Terms(
    w=(330.0, 0.452, 0.00415),
    k=(0.791, 0.000463, -0.000000844),
    k1=(6.34, 0.000775, -0.0000935),
    k2=(1.09, 0.0284, -0.0000904),
)
_CELSIUS = _Terms(
    w=(349.0, 1.29, 0.0135),
    k=(0.805, 0.000736, -0.00000273),
    k1=(6.27, -0.00938, -0.000303),
    k2=(1.91, 0.0407, -0.000293),
)


def _emc(terms: _Terms, temp: float, rh_pct: float) -> float:
    def at(row: tuple[float, float, float]) -> float:
        return row[0] + row[1] * temp + row[2] * temp * temp

    w, k1, k2 = at(terms.w), at(terms.k1), at(terms.k2)
    kh = at(terms.k) * rh_pct / 100
    first = kh / (1 - kh)
    second = (k1 * kh + 2 * k1 * k2 * kh * kh) / (1 + k1 * kh + k1 * k2 * kh * kh)
    return 1800 / w * (first + second)


def _in_table(temp_f: float, rh_pct: float) -> None:
    if not (math.isfinite(temp_f) and TABLE_F[0] <= temp_f <= TABLE_F[1]):
        raise OutsideTable(f"{temp_f:g} F is outside the published table; give {TABLE_F[0]:g} to {TABLE_F[1]:g} F.")
    if not (math.isfinite(rh_pct) and TABLE_RH_PCT[0] <= rh_pct <= TABLE_RH_PCT[1]):
        raise OutsideTable(
            f"A relative humidity of {rh_pct:g} % is outside the published table; "
            f"give {TABLE_RH_PCT[0]:g} to {TABLE_RH_PCT[1]:g} %."
        )


def equilibrium_moisture_pct(temp_f: float, rh_pct: float) -> float:
    """
    Moisture content (percent of dry weight) at which wood rests in air of this temperature (F) and humidity.

    Wood Handbook equation 4-5 with its Fahrenheit constants, 30 to 270 F, 5 to 95 %. Mid-way between wetting and
    drying: species and history move it by a point or more.

    :raises OutsideTable: outside that range.
    """
    _in_table(temp_f, rh_pct)
    return _emc(_FAHRENHEIT, temp_f, rh_pct)


def equilibrium_moisture_pct_celsius(temp_c: float, rh_pct: float) -> float:
    """The same with the handbook's Celsius constants; within 0.1 point of the Fahrenheit ones."""
    _in_table(temp_c * 1.8 + 32, rh_pct)
    return _emc(_CELSIUS, temp_c, rh_pct)


def equilibrium_rh_pct(temp_f: float, moisture_pct: float) -> float:
    """
    Relative humidity (percent) at which wood of this moisture content neither gains nor loses at this temperature (F).

    :raises OutsideTable: if the answer lies outside 5 to 95 %.
    """
    low, high = TABLE_RH_PCT
    least, most = equilibrium_moisture_pct(temp_f, low), equilibrium_moisture_pct(temp_f, high)
    if not least <= moisture_pct <= most:
        raise OutsideTable(
            f"{moisture_pct:g} % moisture has no equilibrium inside the published table at {temp_f:g} F; "
            f"give {least:.1f} to {most:.1f} %."
        )
    # The equation rises all the way, so halving cannot miss.
    while high - low > 1e-9:
        middle = (low + high) / 2
        if equilibrium_moisture_pct(temp_f, middle) < moisture_pct:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def saturation_pressure_mmhg(temp_f: float) -> float:
    """Saturation pressure of water vapor, mmHg, at a temperature (F)."""
    return saturation_pressure_psia(temp_f) * MMHG_PER_PSI


def red_oak_timelag_days(thickness_in: float, wood_temp_f: float) -> float:
    """
    Days in which red oak of this thickness (in) loses 63 % of the moisture above its equilibrium.

    tau = L^1.52 / (0.0575 + 0.00142 psat), psat in mmHg at the wood's temperature.
    """
    if not (math.isfinite(thickness_in) and thickness_in > 0):
        raise ValueError(f"The thickness is {thickness_in:g} in; give more than zero.")
    return float(thickness_in**1.52) / (0.0575 + 0.00142 * saturation_pressure_mmhg(wood_temp_f))


def share_of_the_way(timelags: float) -> float:
    """Share of the way to equilibrium after so many timelags: 1 - exp(-n)."""
    if not (math.isfinite(timelags) and timelags >= 0):
        raise ValueError(f"{timelags:g} timelags; give zero or more.")
    return -math.expm1(-timelags)
