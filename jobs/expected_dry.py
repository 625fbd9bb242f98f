"""When a job may be dry, as a range with its reason. Nothing is ever taken away by it: only by a reading."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

from jobs.drying_log import DryingLog, PointLine
from jobs.science.drying_days import UnknownMaterial, WetMaterial, drying_days
from jobs.science.forecast import Forecast, NoForecast, Reading, forecast_job, forecast_point, resting_value

# A material that the table does not hold is taken to be as slow as the slowest usual board (judgment).
TAKEN_AS = "drywall"


@dataclass(frozen=True)
class ExpectedDry:
    """From when to when, counted from the last reading; or why no range can be given."""

    low_at: datetime | None
    high_at: datetime | None
    why: str


def expected_dry(log: DryingLog, *, now: datetime) -> ExpectedDry:
    """The job's range: that of its slowest point."""
    each = {f"point {point.number}": _of_point(point, now) for point in log.points}
    found = forecast_job(each)
    if isinstance(found, NoForecast) or log.read_at is None:
        return ExpectedDry(
            None, None, _why_not(found, each, log) if isinstance(found, NoForecast) else "No reading yet."
        )
    return ExpectedDry(
        log.read_at + timedelta(days=found.low_days), log.read_at + timedelta(days=found.high_days), found.reason
    )


def _why_not(found: NoForecast, each: Mapping[str, Forecast | NoForecast], log: DryingLog) -> str:
    """Why there is no range: each reason once, with the points that it holds for."""
    stuck = [one for one in each.values() if isinstance(one, NoForecast) and one.code != "at_goal"]
    if found.code != "points_without_forecast" or not stuck:
        return found.message
    by_code: dict[str, list[NoForecast]] = {}
    for one in stuck:
        by_code.setdefault(one.code, []).append(one)
    said = [_usual(alike, log) if code == "too_few_readings" else _alike(alike) for code, alike in by_code.items()]
    return " ".join(said)


def _usual(alike: list[NoForecast], log: DryingLog) -> str:
    """Before a second reading the usual days of the material are all that can be said."""
    names = {one.point for one in alike}
    usual = [_usual_days(point.material) for point in log.points if f"point {point.number}" in names]
    low, high = max(low for low, _, _ in usual), max(high for _, _, high in usual)
    points = "1 point needs" if len(alike) == 1 else f"{len(alike)} points need"
    return (
        f"{points} two readings at least 12 hours apart. "
        f"Until then: these materials usually take {low:g} to {high:g} days from the first reading."
    )


def _alike(alike: list[NoForecast]) -> str:
    others = [one.point.removeprefix("point ") for one in alike[1:] if one.point is not None]
    return alike[0].message + (f" The same at point {', '.join(others)}." if others else "")


def _of_point(point: PointLine, now: datetime) -> Forecast | NoForecast:
    name = f"point {point.number}"
    readings = [Reading(name, point.meter, point.scale, value.taken_at, value.value) for value in point.values]
    # Two readings of one instant (a value typed twice) say nothing about a fall: the later row stands.
    kept = [first for first, second in pairwise(readings) if first.taken_at != second.taken_at] + readings[-1:]
    return forecast_point(
        kept,
        goal=point.goal,
        equilibrium=min(resting_value(point.dry_standard), point.goal),
        usual_days=_usual_days(point.material),
        as_of=now,
    )


def _usual_days(material: str) -> tuple[float, float, float]:
    try:
        days = drying_days([WetMaterial(material)])
    except UnknownMaterial:
        days = drying_days([WetMaterial(TAKEN_AS)])
    if days is None:
        raise TypeError("one wet material takes its days")
    return days.low, days.likely, days.high
