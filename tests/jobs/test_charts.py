"""Charts of the drying log: every value lies where its axis says, whatever the values; what is shown is said too."""

from datetime import UTC, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.charts import Chart, Series, line_chart

PACIFIC = ZoneInfo("America/Los_Angeles")
BEGAN = datetime(2026, 10, 30, 22, tzinfo=UTC)


def drawn(values: list[float], goal: float | None = None) -> Chart:
    line = Series("inside", tuple((BEGAN + timedelta(hours=20 * n), value) for n, value in enumerate(values)))
    chart = line_chart("Point 1", "meter value", [line], PACIFIC, goal=goal, width=200, height=110)
    assert chart is not None
    return chart


def value_at(chart: Chart, y: float) -> float:
    """What the axis marks say a height means."""
    (low_y, low), *_, (high_y, high) = [(tick.at, float(tick.words)) for tick in chart.y_ticks]
    return low + (high - low) * (y - low_y) / (high_y - low_y)


@given(
    values=st.lists(st.floats(0, 200).map(lambda value: round(value, 1)), min_size=2, max_size=12),
    goal=st.none() | st.integers(0, 40),
)
def test_every_value_lies_where_the_axis_says(values: list[float], goal: int | None) -> None:
    chart = drawn(values, goal)
    left, top, right, bottom = chart.plot
    for (x, y), value in zip(chart.lines[0].points, values, strict=True):
        assert left - 1e-6 <= x <= right + 1e-6
        assert top - 1e-6 <= y <= bottom + 1e-6
        assert value_at(chart, y) == pytest.approx(value, abs=1e-3 * max(1, max(values)))
    assert (chart.goal_y is None) == (goal is None)
    if chart.goal_y is not None and goal is not None:
        assert value_at(chart, chart.goal_y) == pytest.approx(goal, abs=0.2)


def test_days_are_marked_at_local_midnight_also_when_clocks_change() -> None:
    chart = drawn([40, 35, 30, 25])
    left, _, right, _ = chart.plot
    # 60 hours from October 30, 3 p.m. local time; the night of November 1 is 25 hours long.
    hours = [round((tick.at - left) / (right - left) * 60, 3) for tick in chart.x_ticks]
    assert [(tick.words, hour) for tick, hour in zip(chart.x_ticks, hours, strict=True)] == [
        ("Oct 31", 9), ("Nov 1", 33), ("Nov 2", 58),
    ]  # fmt: skip


def test_one_value_is_no_line() -> None:
    assert line_chart("Air", "", [Series("", ((BEGAN, 50.0),))], PACIFIC, width=200, height=110) is None


def test_names_do_not_lie_over_one_another() -> None:
    ends = BEGAN + timedelta(days=2)
    lines = [Series(name, ((BEGAN, 60.0), (ends, 50.0 + n / 10))) for n, name in enumerate(("inside", "outside", "x"))]
    chart = line_chart("Air", "grains per pound", lines, PACIFIC, width=420, height=170)
    assert chart is not None
    heights = sorted(line.label_y for line in chart.lines)
    assert all(below - above >= 9.9 for above, below in pairwise(heights))
    assert len({line.dash for line in chart.lines}) == 3
    assert "inside: 60 on Oct 30, 50 on Nov 1" in chart.said
