"""
Humid air in field units: what a thermo-hygrometer reading says about the water in the air.

All relations are those of ASHRAE Handbook - Fundamentals (2017), chapter 1, as coded by PsychroLib in its IP units.
Temperatures in F, relative humidity in percent, humidity in grains of water per pound of dry air (gpp), elevation
in ft above sea level (standard atmosphere).
"""

import builtins
import importlib.util
import math
from dataclasses import dataclass
from functools import lru_cache
from types import ModuleType
from typing import Any

GRAINS_PER_LB = 7000.0
LB_PER_PINT = 1.0432
INHG_PER_PSI = 2.036021
STANDARD_AIR_FT3_LB = 1 / 0.075
"""Specific volume of standard air; dryer exhaust is nearer 14.0."""

DRY_BULB_F = (-40.0, 200.0)
"""Widest dry bulb taken, F: from winter outdoor air to the hot exhaust of a desiccant."""
RH_PCT = (0.1, 100.0)
ELEVATION_FT = (-1500.0, 16000.0)


def _scalar_psychrolib() -> ModuleType:
    """
    A copy of PsychroLib of our own, in IP units and without numba.

    The shared module keeps its unit system in a global that any other importer may flip, and where numba is
    installed it compiles for seconds at the first call; a scalar takes microseconds without it.
    """
    spec = importlib.util.find_spec("psychrolib")
    if spec is None or spec.loader is None:
        raise ImportError("psychrolib is not installed; it is a dependency of this project.")

    def without_numba(name: str, *args: Any, **kwargs: Any) -> Any:
        if name == "numba":
            raise ImportError(name)
        return builtins.__import__(name, *args, **kwargs)

    module = importlib.util.module_from_spec(spec)
    module.__dict__["__builtins__"] = {**vars(builtins), "__import__": without_numba}
    spec.loader.exec_module(module)
    module.SetUnitSystem(module.IP)
    return module


_psy: Any = _scalar_psychrolib()


class ImpossibleAir(ValueError):
    """Air that cannot be, or that no instrument on a job would show."""

    code = "impossible_air"

    def __init__(self, field: str, value: float, message: str) -> None:
        self.field = field
        self.value = value
        super().__init__(message)


@dataclass(frozen=True, slots=True)
class Air:
    """One state of humid air; build it with :func:`air_state` or one of its inverses."""

    dry_bulb_f: float
    rh_pct: float
    pressure_psia: float
    humidity_ratio: float
    """lb of water per lb of dry air."""
    gpp: float
    dew_point_f: float
    wet_bulb_f: float
    vapor_pressure_inhg: float
    specific_volume_ft3_lb: float
    """ft3 of moist air per lb of dry air."""


def _within(field: str, value: float, limits: tuple[float, float], what: str, unit: str) -> None:
    low, high = limits
    if not (math.isfinite(value) and low <= value <= high):
        raise ImpossibleAir(field, value, f"{what} is {value:g} {unit}; give {low:,g} to {high:,g} {unit}.")


def pressure_psia(elevation_ft: float = 0.0) -> float:
    """Standard atmospheric pressure at an elevation (ASHRAE 2017, chapter 1, equation 3)."""
    _within("elevation_ft", elevation_ft, ELEVATION_FT, "The elevation", "ft")
    return float(_psy.GetStandardAtmPressure(elevation_ft))


def saturation_pressure_psia(temp_f: float) -> float:
    """Saturation pressure of water vapor, psia (ASHRAE 2017, chapter 1, equations 5 and 6)."""
    _within("temp_f", temp_f, (-148.0, 392.0), "The temperature", "F")
    return float(_psy.GetSatVapPres(temp_f))


@lru_cache(maxsize=4096)
def air_state(dry_bulb_f: float, rh_pct: float, elevation_ft: float = 0.0) -> Air:
    """
    The air at a dry bulb (F), a relative humidity (percent) and an elevation (ft).

    :raises ImpossibleAir: if a figure is outside what air on a job can be, or the vapor would exceed the pressure.
    """
    _within("dry_bulb_f", dry_bulb_f, DRY_BULB_F, "The dry bulb", "F")
    _within("rh_pct", rh_pct, RH_PCT, "The relative humidity", "%")
    pressure = pressure_psia(elevation_ft)
    vapor_psia = float(_psy.GetVapPresFromRelHum(dry_bulb_f, rh_pct / 100))
    if vapor_psia >= pressure:
        raise ImpossibleAir(
            "rh_pct",
            rh_pct,
            f"At {dry_bulb_f:g} F and {rh_pct:g} % the water vapor alone would exceed the air pressure of "
            f"{pressure:.2f} psia; read the instrument again.",
        )
    ratio = float(_psy.GetHumRatioFromVapPres(vapor_psia, pressure))
    return Air(
        dry_bulb_f=dry_bulb_f,
        rh_pct=rh_pct,
        pressure_psia=pressure,
        humidity_ratio=ratio,
        gpp=ratio * GRAINS_PER_LB,
        dew_point_f=min(float(_psy.GetTDewPointFromVapPres(dry_bulb_f, vapor_psia)), dry_bulb_f),
        wet_bulb_f=min(float(_psy.GetTWetBulbFromHumRatio(dry_bulb_f, ratio, pressure)), dry_bulb_f),
        vapor_pressure_inhg=vapor_psia * INHG_PER_PSI,
        specific_volume_ft3_lb=float(_psy.GetMoistAirVolume(dry_bulb_f, ratio, pressure)),
    )


def rh_from_dew_point(dry_bulb_f: float, dew_point_f: float) -> float:
    """
    Relative humidity (percent) of air with this dry bulb and dew point (F).

    :raises ImpossibleAir: if the dew point is above the dry bulb.
    """
    _within("dry_bulb_f", dry_bulb_f, DRY_BULB_F, "The dry bulb", "F")
    _not_above("dew_point_f", dew_point_f, dry_bulb_f, "dew point")
    return 100 * saturation_pressure_psia(dew_point_f) / saturation_pressure_psia(dry_bulb_f)


def rh_from_wet_bulb(dry_bulb_f: float, wet_bulb_f: float, elevation_ft: float = 0.0) -> float:
    """
    Relative humidity (percent) of air with this dry bulb and thermodynamic wet bulb (F).

    :raises ImpossibleAir: if the wet bulb is above the dry bulb, or so far below that the air would hold less than
        no water.
    """
    _within("dry_bulb_f", dry_bulb_f, DRY_BULB_F, "The dry bulb", "F")
    _not_above("wet_bulb_f", wet_bulb_f, dry_bulb_f, "wet bulb")
    pressure = pressure_psia(elevation_ft)
    # PsychroLib bounds the ratio from below, so bone-dry air shows as its bound.
    ratio = float(_psy.GetHumRatioFromTWetBulb(dry_bulb_f, wet_bulb_f, pressure))
    if ratio <= float(_psy.MIN_HUM_RATIO):
        raise ImpossibleAir(
            "wet_bulb_f",
            wet_bulb_f,
            f"A wet bulb of {wet_bulb_f:g} F at a dry bulb of {dry_bulb_f:g} F leaves no water in the air; "
            "check that the wick is wet and the two readings are not swapped.",
        )
    return 100 * float(_psy.GetRelHumFromHumRatio(dry_bulb_f, ratio, pressure))


def rh_from_gpp(dry_bulb_f: float, gpp: float, elevation_ft: float = 0.0) -> float:
    """
    Relative humidity (percent) of air that holds so many grains per pound at this dry bulb (F).

    :raises ImpossibleAir: if air of that dry bulb cannot hold so much, or the figure is below zero.
    """
    most = air_state(dry_bulb_f, 100.0, elevation_ft).gpp
    # A hair above saturation is the rounding of the way back, not a reading.
    if not (math.isfinite(gpp) and 0 <= gpp <= most * (1 + 1e-9)):
        raise ImpossibleAir(
            "gpp", gpp, f"{gpp:g} gpp is not possible at {dry_bulb_f:g} F; give 0 to {most:.1f} gpp or a warmer air."
        )
    ratio = gpp / GRAINS_PER_LB
    return min(100.0, 100 * float(_psy.GetRelHumFromHumRatio(dry_bulb_f, ratio, pressure_psia(elevation_ft))))


def _not_above(field: str, value: float, dry_bulb_f: float, what: str) -> None:
    if not math.isfinite(value) or value < DRY_BULB_F[0] - 60:
        raise ImpossibleAir(field, value, f"The {what} is {value:g} F; give a {what} up to the dry bulb.")
    if value > dry_bulb_f:
        raise ImpossibleAir(
            field,
            value,
            f"The {what} of {value:g} F is above the dry bulb of {dry_bulb_f:g} F; it never is: read both again.",
        )


def grain_depression(inlet: Air, outlet: Air) -> float:
    """Grains per pound taken out between a machine's inlet and outlet; below zero, the machine adds water."""
    return inlet.gpp - outlet.gpp


def water_removed_pints_per_day(
    cfm: float, grain_depression_gpp: float, specific_volume_ft3_lb: float = STANDARD_AIR_FT3_LB
) -> float:
    """
    US pints of water a day that an airflow (cfm) carries away at a grain depression (gpp).

    1,440 min/day x cfm / v gives lb of dry air a day; a pound holds 7,000 grains and a pint weighs 1.0432 lb.

    :raises ValueError: if the airflow is below zero or the specific volume is not above zero.
    """
    if not (math.isfinite(cfm) and cfm >= 0):
        raise ValueError(f"The airflow is {cfm:g} cfm; give zero or more.")
    if not (math.isfinite(specific_volume_ft3_lb) and specific_volume_ft3_lb > 0):
        raise ValueError(f"The specific volume is {specific_volume_ft3_lb:g} ft3/lb; give more than zero (about 13.3).")
    return 1440 * cfm * grain_depression_gpp / (GRAINS_PER_LB * specific_volume_ft3_lb * LB_PER_PINT)


def grain_depression_for(
    pints_per_day: float, cfm: float, specific_volume_ft3_lb: float = STANDARD_AIR_FT3_LB
) -> float:
    """Grain depression (gpp) that an airflow (cfm) needs to carry away so many US pints a day."""
    per_grain = water_removed_pints_per_day(cfm, 1.0, specific_volume_ft3_lb)
    if per_grain == 0:
        raise ValueError("No air moves, so no water is carried away; give an airflow above zero cfm.")
    return pints_per_day / per_grain
