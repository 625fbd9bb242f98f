"""The drying forecast: known parameters recovered, an honest range, and guards that rather say nothing."""

import math
import random
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.science.forecast import (
    BadReading,
    Forecast,
    JobForecast,
    NoForecast,
    Reading,
    forecast_job,
    forecast_point,
    resting_value,
)
from tests.bench import bench_forecast

START = datetime(2026, 3, 2, 9, tzinfo=UTC)
USUAL = (2.0, 3.0, 5.0)


def course(
    first: float, rest: float, rate: float, days: Sequence[float], *, point: str = "north wall", digits: int = 4
) -> list[Reading]:
    """Readings of an exact first-order decay."""
    return [
        Reading(
            point,
            "pin",
            "wood %",
            START + timedelta(days=d),
            round(rest + (first - rest) * math.exp(-rate * d), digits),
        )
        for d in days
    ]


def ask(readings: Sequence[Reading], goal: float = 13, rest: float = 9, **other: object) -> Forecast | NoForecast:
    return forecast_point(readings, **{"goal": goal, "equilibrium": rest, "usual_days": USUAL, **other})  # type: ignore[arg-type]


def forecast(readings: Sequence[Reading], goal: float = 13, rest: float = 9, **other: object) -> Forecast:
    found = ask(readings, goal, rest, **other)
    assert isinstance(found, Forecast), found
    return found


def code(found: Forecast | NoForecast | JobForecast) -> str:
    assert isinstance(found, NoForecast)
    assert found.message.endswith(".")
    return found.code


def test_the_worked_decay() -> None:
    """28 falling to 9 at 0.45 a day: 28, 21.11, 16.72, 13.93, 12.14; 13 is reached after 3.46 days."""
    readings = course(28, 9, 0.45, range(4), digits=2)
    assert [reading.value for reading in readings] == pytest.approx([28, 21.11, 16.72, 13.93], abs=0.02)
    found = forecast(readings, equilibrium_sd=0.0)
    assert found.likely_days == pytest.approx(3.46 - 3, abs=0.08)
    assert found.low_days <= found.likely_days <= found.high_days


@settings(max_examples=60, deadline=None)
@given(st.floats(20, 40), st.floats(5, 10), st.floats(0.15, 0.9), st.integers(3, 6))
def test_known_parameters_are_recovered_from_exact_readings(first: float, rest: float, rate: float, count: int) -> None:
    goal = rest + (first - rest) * math.exp(-rate * (count + 2))
    found = forecast(course(first, rest, rate, range(count)), goal, rest, equilibrium_sd=0.0)
    assert found.likely_days == pytest.approx(3, abs=0.75)
    assert found.low_days <= 3 <= found.high_days


def test_the_range_widens_with_the_scatter_of_the_readings() -> None:
    def width(scatter: float) -> float:
        widths = []
        for seed in range(40):
            draw = random.Random(seed)
            readings = [
                replace(reading, value=reading.value + draw.gauss(0, scatter))
                for reading in course(30, 8, 0.25, range(5))
            ]
            found = ask(readings, 12, 8)
            if isinstance(found, Forecast):
                widths.append(found.high_days - found.low_days)
        assert len(widths) > 30
        return sum(widths) / len(widths)

    assert width(0.05) < width(0.8) < width(2.0)


def test_more_readings_of_the_same_course_narrow_the_range() -> None:
    def width(count: int) -> float:
        found = forecast(course(30, 8, 0.25, range(count)), 10, 8)
        return found.high_days - found.low_days

    assert width(6) < width(4) < width(2)


def test_a_change_of_equipment_lets_the_readings_after_it_count() -> None:
    """Slow for three days, then twice as fast: told of the change, the forecast is nearer to the truth."""
    slow = course(30, 8, 0.15, range(4))
    fast = [
        Reading(
            "north wall", "pin", "wood %", START + timedelta(days=3 + d), 8 + (slow[-1].value - 8) * math.exp(-0.45 * d)
        )
        for d in (1, 2)
    ]
    truth = math.log((fast[-1].value - 8) / 2) / 0.45
    told = forecast([*slow, *fast], 10, 8, equipment_changed_at=[slow[-1].taken_at])
    untold = forecast([*slow, *fast], 10, 8)
    assert abs(told.likely_days - truth) < abs(untold.likely_days - truth)


def test_the_order_in_which_readings_come_changes_nothing() -> None:
    readings = course(28, 9, 0.3, range(5))
    assert ask(readings) == ask(readings[::-1])


def test_the_reason_tells_value_goal_fall_and_range() -> None:
    found = forecast(course(28, 9, 0.3, range(4), digits=1))
    assert found.reason.startswith("north wall at 16.7, goal 13, falling 3.2 a day over 4 readings: ")
    assert found.reason.endswith("from the last reading")
    assert found.since == START + timedelta(days=3)


@pytest.mark.parametrize(
    ("field", "refused"), [("point", "mixed_points"), ("meter", "mixed_meters"), ("scale", "mixed_scales")]
)
def test_points_meters_and_scales_are_never_mixed(field: str, refused: str) -> None:
    first, *others = course(28, 9, 0.3, range(4))
    assert code(ask([replace(first, **{field: "another"}), *others])) == refused  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("readings", "goal", "rest", "refused"),
    [
        ([], 13, 9, "no_readings"),
        (course(28, 9, 0.3, [0]), 13, 9, "too_few_readings"),
        (course(28, 9, 0.3, [0, 0.3]), 13, 9, "too_few_readings"),
        (course(28, 9, 0.3, range(9)), 13, 9, "at_goal"),
        (course(28, 9, 0.3, range(4)), 9, 9, "goal_not_reachable"),
        (course(28, 9, 0.3, range(4)), 8, 9, "goal_not_reachable"),
        (course(20, 9, -0.1, range(4)), 13, 9, "not_falling"),
        (course(20, 9, 0, range(4)), 13, 9, "not_falling"),
        (course(28, 9, 0.003, range(4)), 9.1, 9, "too_slow"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_guards(readings: list[Reading], goal: float, rest: float, refused: str) -> None:
    assert code(ask(readings, goal, rest)) == refused


def test_what_needs_another_plan_says_so() -> None:
    for found in (ask(course(20, 9, -0.1, range(4))), ask(course(28, 9, 0.3, range(4)), 8, 9)):
        assert isinstance(found, NoForecast)
        assert "No forecast, review the plan." in found.message


def test_readings_too_old_give_none() -> None:
    readings = course(28, 9, 0.3, range(3))
    assert isinstance(ask(readings, as_of=START + timedelta(days=5)), Forecast)
    assert code(ask(readings, as_of=START + timedelta(days=5, hours=1))) == "readings_too_old"


def test_figures_that_cannot_be_are_refused() -> None:
    readings = course(28, 9, 0.3, range(4))
    with pytest.raises(BadReading, match="zero or more"):
        replace(readings[0], value=math.nan)
    with pytest.raises(BadReading, match="time zone"):
        replace(readings[0], taken_at=datetime(2026, 3, 2, 9))  # noqa: DTZ001
    with pytest.raises(BadReading, match="finite"):
        ask(readings, math.inf)
    with pytest.raises(BadReading, match="rising order"):
        ask(readings, usual_days=(3, 2, 5))
    with pytest.raises(BadReading, match="spread"):
        ask(readings, equilibrium_sd=-1.0)


@settings(max_examples=80, deadline=None)
@given(
    st.lists(st.tuples(st.floats(0, 20), st.floats(0, 100)), max_size=8),
    st.floats(0, 60),
    st.floats(0, 60),
    st.lists(st.floats(0, 20), max_size=2),
)
def test_any_readings_give_a_range_in_order_or_a_guard(
    dated: list[tuple[float, float]], goal: float, rest: float, changes: list[float]
) -> None:
    readings = [Reading("p", "m", "s", START + timedelta(days=day), value) for day, value in dated]
    found = ask(readings, goal, rest, equipment_changed_at=[START + timedelta(days=day) for day in changes])
    if isinstance(found, Forecast):
        assert 0 <= found.low_days < found.likely_days < found.high_days <= 46
        assert found.fall_per_day > 0


def test_resting_value_of_wood_is_the_lower_of_air_and_dry_standard() -> None:
    assert resting_value(12) == 11
    assert resting_value(12, air=(70, 30)) == pytest.approx(6.17, abs=0.01)
    assert resting_value(7, air=(70, 65)) == 6
    assert resting_value(0.5) == 0


def test_resting_value_in_air_beyond_the_table_is_that_of_its_edge() -> None:
    assert resting_value(12, air=(70, 99)) == 11
    assert resting_value(12, air=(90, 3)) == resting_value(12, air=(90, 5))


def test_the_job_is_as_far_as_its_slowest_point() -> None:
    points: dict[str, Forecast | NoForecast] = {
        f"p{i}": ask(course(28, 9, 0.9, range(5), point=f"p{i}")) for i in range(11)
    }
    rates = {"kitchen": 0.3, "hall": 0.25, "bath": 0.35}
    points |= {name: ask(course(28, 9, rate, range(4), point=name)) for name, rate in rates.items()}
    found = forecast_job(points)
    assert isinstance(found, JobForecast)
    hall = points["hall"]
    assert isinstance(hall, Forecast)
    assert (found.slowest_point, found.points, found.points_above_goal) == ("hall", 14, 3)
    assert found.likely_days == hall.likely_days
    assert found.reason.startswith("3 of 14 points above goal, falling 2.9 a day at the slowest, hall: ")


def test_a_point_without_forecast_stops_that_of_the_job_and_is_named() -> None:
    found = forecast_job({"hall": ask(course(28, 9, 0.3, range(4))), "bath": ask([])})
    assert code(found) == "points_without_forecast"
    assert isinstance(found, NoForecast)
    assert "bath" in found.message


def test_a_job_with_nothing_left_or_nothing_read() -> None:
    assert code(forecast_job({"hall": ask(course(28, 9, 0.3, range(9)))})) == "at_goal"
    assert code(forecast_job({})) == "no_readings"


def test_the_range_holds_four_ends_in_five_on_invented_jobs() -> None:
    """A smaller run of the bench, on seeds that were never tuned on."""
    tallies = [bench_forecast.measure(klass, range(2_000_000, 2_000_060)) for klass in bench_forecast.CLASSES]
    inside = sum(tally.inside for tally in tallies) / sum(tally.forecasts for tally in tallies)
    widths = sorted(width for tally in tallies for width in tally.widths)
    assert 0.75 <= inside <= 0.90
    assert widths[len(widths) // 2] <= 2.0
    misses = [miss for tally in tallies for miss in tally.misses]
    usual = [miss for tally in tallies for miss in tally.usual_misses]
    assert sum(misses) < 0.5 * sum(usual)
