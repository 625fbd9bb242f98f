"""
When a wet point will reach its goal, from its dated readings: a range of days and a reason, or a refusal to say.

A forecast is never a date: it is low, likely and high days that claim four chances in five, counted from the last
reading. It never decides that something is dry; only a reading does.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from jobs.science.decay import days_to_goal
from jobs.science.wood import TABLE_RH_PCT, equilibrium_moisture_pct

LEAST_SPAN = timedelta(hours=12)
STALE_AFTER = timedelta(days=3)
LONGEST_DAYS = 45.0
"""Beyond this a forecast says nothing useful; common practice, no source."""
LEAST_HALF_WIDTH_DAYS = 0.25
"""A reading a day tells no more than some hours."""
REVIEW = "No forecast, review the plan."


class BadReading(ValueError):
    """A reading or a figure beside it that cannot be."""

    code = "bad_reading"


@dataclass(frozen=True, slots=True)
class Reading:
    """One dated reading of one point, on one scale of one meter."""

    point: str
    meter: str
    scale: str
    taken_at: datetime
    value: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.value) and self.value >= 0):
            raise BadReading(f"{self.point} reads {self.value}; give a figure of zero or more.")
        if self.taken_at.tzinfo is None:
            raise BadReading(f"The reading of {self.point} has no time zone; give the time with its zone.")


@dataclass(frozen=True, slots=True)
class Forecast:
    """Days from ``since`` until the point reaches its goal; the range claims four chances in five."""

    point: str
    low_days: float
    likely_days: float
    high_days: float
    since: datetime
    last_value: float
    fall_per_day: float
    """Of the last readings, in units of the scale."""
    reason: str


@dataclass(frozen=True, slots=True)
class NoForecast:
    """Why there is no range: a stable code, and what is the case and what to do."""

    code: str
    message: str
    point: str | None = None


@dataclass(frozen=True, slots=True)
class JobForecast:
    """The forecast of all points together: the job is as far as its slowest point."""

    low_days: float
    likely_days: float
    high_days: float
    slowest_point: str
    points: int
    points_above_goal: int
    reason: str


def resting_value(dry_standard: float, *, margin: float = 1.0, air: tuple[float, float] | None = None) -> float:
    """
    The value at which a point would come to rest: its dry standard less a small margin.

    For a wood-moisture scale give the chamber's ``air`` (dry bulb F, relative humidity %): then the lower of that and
    the equilibrium moisture of wood in it.

    :param margin: in units of the scale; common practice, no source.
    """
    rest = max(0.0, dry_standard - margin)
    if air is None:
        return rest
    dry_bulb_f, rh_pct = air
    # Beyond the table its edge counts: in wetter air the dry standard is lower anyway, in drier air that is cautious.
    low, high = TABLE_RH_PCT
    return min(rest, equilibrium_moisture_pct(dry_bulb_f, min(max(rh_pct, low), high)))


def forecast_point(
    readings: Sequence[Reading],
    *,
    goal: float,
    equilibrium: float,
    usual_days: tuple[float, float, float],
    equilibrium_sd: float | None = None,
    equipment_changed_at: Sequence[datetime] = (),
    as_of: datetime | None = None,
) -> Forecast | NoForecast:
    """
    The range of days until a point reaches its goal, or why none can be given.

    :param readings: of one point, on one scale of one meter, in any order.
    :param goal: the value at which the point counts as dry, in units of the scale.
    :param equilibrium: where it would come to rest (see :func:`resting_value`).
    :param usual_days: low, likely and high days that its material usually takes (see ``drying_days``).
    :param equilibrium_sd: how sure that is; a quarter of the way from it to the goal if not given.
    :param equipment_changed_at: when equipment was added, taken away or moved.
    :param as_of: the moment the answer is read; readings older than three days then give none.
    :raises BadReading: if a figure is not finite, or the usual days are not above zero and in rising order.
    """
    _check(goal, equilibrium, usual_days, equilibrium_sd)
    dated = sorted(readings, key=lambda reading: reading.taken_at)
    refused = _refused(dated, goal, equilibrium, as_of)
    if refused is not None:
        return refused
    last = dated[-1]
    ages = [_days(last.taken_at - reading.taken_at) for reading in dated]
    values = [reading.value for reading in dated]
    fall = _fall_per_day(ages, values)
    if fall <= 0:
        return NoForecast(
            "not_falling",
            f"The last readings of {last.point} do not fall ({_listed(values[-3:])}). {REVIEW} Check air, temperature "
            "and hidden water, and read again within a day.",
            last.point,
        )
    found = days_to_goal(
        ages,
        values,
        goal=goal,
        equilibrium=equilibrium,
        equilibrium_sd=(goal - equilibrium) / 4 if equilibrium_sd is None else equilibrium_sd,
        usual_days=usual_days,
        changed_days_ago=[_days(last.taken_at - at) for at in equipment_changed_at if at < last.taken_at],
    )
    if found.high > LONGEST_DAYS:
        return NoForecast(
            "too_slow",
            f"At this rate {last.point} may take more than {LONGEST_DAYS:g} days to reach {goal:g}. {REVIEW}",
            last.point,
        )
    # The last reading is above the goal, so the likely days are never nothing.
    likely = max(found.likely, LEAST_HALF_WIDTH_DAYS)
    low = max(0.0, min(found.low, likely - LEAST_HALF_WIDTH_DAYS))
    high = max(found.high, likely + LEAST_HALF_WIDTH_DAYS)
    return Forecast(
        point=last.point,
        low_days=low,
        likely_days=likely,
        high_days=high,
        since=last.taken_at,
        last_value=last.value,
        fall_per_day=fall,
        reason=f"{last.point} at {last.value:g}, goal {goal:g}, falling {fall:.2g} a day over {len(dated)} readings: "
        f"{_range(low, likely, high)} from the last reading",
    )


def forecast_job(points: Mapping[str, Forecast | NoForecast]) -> JobForecast | NoForecast:
    """
    All points together: each figure is that of the slowest point, which is named; any point without forecast stops it.

    Points at their goal (``at_goal``) count as done.
    """
    if not points:
        return NoForecast("no_readings", "No point has been read. Read every point and set its goal.")
    going = [found for found in points.values() if isinstance(found, Forecast)]
    stuck = sorted(name for name, found in points.items() if isinstance(found, NoForecast) and found.code != "at_goal")
    if stuck:
        return NoForecast(
            "points_without_forecast",
            f"{len(stuck)} of {len(points)} points have no forecast: {', '.join(stuck)}. Look at each one's reason.",
        )
    if not going:
        return NoForecast("at_goal", f"All {len(points)} points read at or below their goal. Confirm and record it.")
    slowest = max(going, key=lambda each: (each.likely_days, each.high_days, each.point))
    low, high = (max(each.low_days for each in going), max(each.high_days for each in going))
    return JobForecast(
        low_days=low,
        likely_days=slowest.likely_days,
        high_days=high,
        slowest_point=slowest.point,
        points=len(points),
        points_above_goal=len(going),
        reason=f"{len(going)} of {len(points)} points above goal, falling {slowest.fall_per_day:.2g} a day at the "
        f"slowest, {slowest.point}: {_range(low, slowest.likely_days, high)}",
    )


def _check(
    goal: float, equilibrium: float, usual_days: tuple[float, float, float], equilibrium_sd: float | None
) -> None:
    if not (math.isfinite(goal) and math.isfinite(equilibrium)):
        raise BadReading(f"The goal is {goal} and the equilibrium {equilibrium}; give two finite figures.")
    low, likely, high = usual_days
    if not (0 < low <= likely <= high < math.inf):
        raise BadReading(f"The usual days are {low}, {likely}, {high}; give them above zero and in rising order.")
    if equilibrium_sd is not None and not (math.isfinite(equilibrium_sd) and equilibrium_sd >= 0):
        raise BadReading(f"The spread of the equilibrium is {equilibrium_sd}; give zero or more.")


def _refused(dated: Sequence[Reading], goal: float, equilibrium: float, as_of: datetime | None) -> NoForecast | None:
    """The guards that need no fit, in the order in which they are told."""
    if not dated:
        return NoForecast("no_readings", "There are no readings of this point. Take the first one.")
    point = dated[-1].point
    for code, what, seen in (
        ("mixed_points", "points", {reading.point for reading in dated}),
        ("mixed_meters", "meters", {reading.meter for reading in dated}),
        ("mixed_scales", "scales", {reading.scale for reading in dated}),
    ):
        if len(seen) > 1:
            told = f"The readings are of {len(seen)} {what} ({', '.join(sorted(seen))}), which cannot be compared."
            return NoForecast(code, f"{told} Forecast each by itself.", point)
    if as_of is not None and as_of - dated[-1].taken_at > STALE_AFTER:
        return NoForecast("readings_too_old", f"{point} was not read for more than three days. Read it again.", point)
    if dated[-1].value <= goal:
        return NoForecast(
            "at_goal",
            f"{point} reads {dated[-1].value:g}, at or below its goal of {goal:g}. Confirm and record it.",
            point,
        )
    if goal <= equilibrium:
        return NoForecast(
            "goal_not_reachable",
            f"{point} would come to rest at {equilibrium:g}, not below its goal of {goal:g}. {REVIEW} Dry the air "
            "further, or look at the goal again.",
            point,
        )
    if len(dated) < 2 or dated[-1].taken_at - dated[0].taken_at < LEAST_SPAN:
        return NoForecast(
            "too_few_readings",
            f"{point} needs two readings at least 12 hours apart. Until then the usual days of its material stand.",
            point,
        )
    return None


def _fall_per_day(ages: Sequence[float], values: Sequence[float]) -> float:
    """Slope of the line through the last three readings, counted downward."""
    t, y = [-age for age in ages[-3:]], values[-3:]
    t_mean, y_mean = sum(t) / len(t), sum(y) / len(y)
    spread = sum((each - t_mean) ** 2 for each in t)
    if spread == 0:
        return 0.0
    return -sum((a - t_mean) * (b - y_mean) for a, b in zip(t, y, strict=True)) / spread


def _days(span: timedelta) -> float:
    return span / timedelta(days=1)


def _listed(values: Sequence[float]) -> str:
    return ", ".join(f"{value:g}" for value in values)


def _range(low: float, likely: float, high: float) -> str:
    return f"{low:.1f} to {high:.1f} days, likely {likely:.1f}"
