"""Initial dehumidification of a chamber: rated pints a day, or process cfm for a desiccant."""

from __future__ import annotations

from fractions import Fraction

from equipment.sizing.loss import Air, Chamber
from equipment.sizing.report import AirFigures, Dehumidification
from equipment.sizing.rule_set import FactorRow, RuleSet
from equipment.sizing.safety import safety
from equipment.sizing.wording import plain
from equipment.sizing.working import Working
from jobs.science.derating import derated_pints_per_day
from jobs.science.psychrometrics import air_state

PSYCHROMETRICS = "ASHRAE Handbook of Fundamentals (2017) ch. 1"
DERATING = "Winkler, Christensen and Tomerlin, NREL (2011), normalised at 80 F and 60 % RH"
# Past this a thermo-hygrometer says nothing, and the last bits differ between machines.
SHOWN_DECIMALS = 4
GRAINS_PER_LB = 7000


def air_figures(air: Air | None, elevation_ft: Fraction, where: str, working: Working) -> AirFigures | None:
    """Grains per pound, dew point and vapor pressure of a chamber's air at the site's pressure."""
    if air is None:
        return None
    state = air_state(float(air.dry_bulb_f), float(air.rh_pct), float(elevation_ft))
    figures = AirFigures(
        gpp=round(state.gpp, SHOWN_DECIMALS),
        dew_point_f=round(state.dew_point_f, SHOWN_DECIMALS),
        vapor_pressure_inhg=round(state.vapor_pressure_inhg, SHOWN_DECIMALS),
    )
    told = f"{plain(air.dry_bulb_f)} F, {plain(air.rh_pct)} % RH, {plain(elevation_ft)} ft"
    ratio = f"{figures.gpp / GRAINS_PER_LB:.9f}"
    working.row(
        f"{where}.air.gpp",
        f"humidity ratio {ratio} at {told}: {GRAINS_PER_LB} x {ratio} = {plain(Fraction(figures.gpp))}",
        PSYCHROMETRICS,
    )
    working.row(
        f"{where}.air.dew_point_f", f"dew point at {told} = {plain(Fraction(figures.dew_point_f))}", PSYCHROMETRICS
    )
    working.row(
        f"{where}.air.vapor_pressure_inhg",
        f"vapor pressure at {told} = {plain(Fraction(figures.vapor_pressure_inhg))}",
        PSYCHROMETRICS,
    )
    return figures


def size_dehumidification(
    chamber: Chamber,
    water_class: int,
    volume_cuft: Fraction,
    *,
    dry: bool,
    air: AirFigures | None,
    rules: RuleSet,
    where: str,
    working: Working,
) -> Dehumidification | None:
    """Need of one chamber; null when this kind of machine is refused in this class. A dry chamber needs nothing."""
    row: FactorRow = getattr(rules.dehumidification, chamber.dehumidifier)
    factor = row.factor(water_class)
    if factor is None:
        working.refuse("conventional_class_4", f"{where}.dehumidifier")
        return None
    at = f"{where}.dehumidification"
    working.row(f"{at}.factor", f"{chamber.dehumidifier}, class {water_class}: {plain(factor.value)}", factor.source)
    if chamber.dehumidifier == "desiccant":
        cfm = Fraction(0) if dry else volume_cuft * factor.value / 60
        sum_ = f"{plain(volume_cuft)} x {plain(factor.value)} / 60 = {plain(cfm)}"
        working.row(f"{at}.process_cfm", "nothing is wet: 0" if dry else sum_, factor.source)
        return Dehumidification(chamber.dehumidifier, None, cfm, factor.value, None)
    pints = Fraction(0) if dry else volume_cuft / factor.value
    sum_ = f"{plain(volume_cuft)} / {plain(factor.value)} = {plain(pints)}"
    working.row(f"{at}.pints_per_day", "nothing is wet: 0" if dry else sum_, factor.source)
    derated = _derated(chamber, pints, air, where, working)
    return Dehumidification(chamber.dehumidifier, pints, None, factor.value, derated)


def _derated(
    chamber: Chamber, pints: Fraction, figures: AirFigures | None, where: str, working: Working
) -> float | None:
    air = chamber.air
    if air is None or figures is None or chamber.dehumidifier == "desiccant":
        return None
    temp, humidity = float(air.dry_bulb_f), float(air.rh_pct)
    derated = round(derated_pints_per_day(float(pints), temp, humidity, kind=chamber.dehumidifier), SHOWN_DECIMALS)
    share = plain(Fraction(derated) / pints) if pints else "0"
    working.row(
        f"{where}.dehumidification.derated_pints_per_day",
        f"{plain(pints)} x {share} at {plain(air.dry_bulb_f)} F and {plain(air.rh_pct)} % RH = "
        f"{plain(Fraction(derated))}",
        DERATING,
    )
    if not pints:
        return derated
    if chamber.dehumidifier == "lgr":
        if derated == 0:
            working.caution("lgr_floor", f"{where}.air", dew_point=plain(Fraction(figures.dew_point_f)))
        else:
            working.caution("derating_estimate", f"{where}.dehumidification.derated_pints_per_day")
    if air.dry_bulb_f < safety().thresholds.refrigerant_cold_f.value:
        working.caution("cold_chamber", f"{where}.air.dry_bulb_f", temp=plain(air.dry_bulb_f))
    return derated
