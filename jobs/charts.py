"""
Small line charts of a drying log, worked out once for the screen (SVG) and for paper.

A chart is plain geometry: x runs from 0 at the left to `width`, y from 0 at the top to `height`, in points. Lines
differ by their dashes and by the name at their end, never by color alone.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from math import ceil, floor, log10
from zoneinfo import ZoneInfo

from jobs.drying_log import AirLine, PointLine
from jobs.models import AirReading

LEFT, RIGHT, TOP, BOTTOM = 34.0, 8.0, 8.0, 18.0
LABEL_ROOM = 92.0
LABEL_STEP = 10.0
Y_TICKS = 4
CHAMBERS_OWN = (AirReading.Where.INSIDE, AirReading.Where.OUTLET)
DASHES = ("", "6 3", "2 3", "8 3 2 3")


@dataclass(frozen=True)
class Series:
    """One line to be drawn: (when, value), oldest first."""

    name: str
    values: tuple[tuple[datetime, float], ...]


@dataclass(frozen=True)
class Line:
    """One line as drawn. `label_y` keeps names from lying over one another."""

    name: str
    points: tuple[tuple[float, float], ...]
    dash: str
    label_x: float
    label_y: float

    @property
    def path(self) -> str:
        """The points as an SVG `points` attribute."""
        return " ".join(f"{x:.1f},{y:.1f}" for x, y in self.points)


@dataclass(frozen=True)
class Tick:
    """A mark on an axis: where it stands, and its words."""

    at: float
    words: str


@dataclass(frozen=True)
class Chart:
    """A chart; `said` tells in words what it shows, for who cannot see it."""

    title: str
    unit: str
    width: float
    height: float
    plot: tuple[float, float, float, float]
    lines: tuple[Line, ...]
    x_ticks: tuple[Tick, ...]
    y_ticks: tuple[Tick, ...]
    goal_y: float | None
    goal: float | None
    said: str


def log_charts(points: Sequence[PointLine], air: Sequence[AirLine], zone: ZoneInfo) -> tuple[Chart, ...]:
    """Each chamber's air in grains per pound, then every point that was read at least twice against its goal."""
    charts = [
        line_chart(f"Air, {name}" if name else "Air", "grains per pound", _air(air, name), zone, width=420, height=170)
        for name in sorted({line.chamber for line in air if line.where in CHAMBERS_OWN}) or [""]
    ]
    for point in points:
        values = tuple((value.taken_at, value.value) for value in point.values)
        title = f"Point {point.number}, {point.room_name}, {point.material.replace('_', ' ')}"
        charts.append(
            line_chart(title, "meter value", [Series("", values)], zone, goal=point.goal, width=200, height=110)
        )
    return tuple(chart for chart in charts if chart is not None)


def _air(air: Sequence[AirLine], chamber: str) -> list[Series]:
    """One chamber's air beside the outside's and the unaffected area's, each outlet by its unit."""
    lines: dict[tuple[str, str], list[tuple[datetime, float]]] = {}
    for line in air:
        if line.gpp is not None and (line.where not in CHAMBERS_OWN or line.chamber == chamber):
            lines.setdefault((line.where, line.unit_number), []).append((line.taken_at, line.gpp))
    order = list(AirReading.Where.values)
    return [
        Series(f"outlet of {unit}" if unit else str(AirReading.Where(where).label), tuple(values))
        for (where, unit), values in sorted(lines.items(), key=lambda item: (order.index(item[0][0]), item[0][1]))
    ]


def line_chart(
    title: str,
    unit: str,
    series: Sequence[Series],
    zone: ZoneInfo,
    *,
    goal: float | None = None,
    width: float,
    height: float,
) -> Chart | None:
    """Lines over local days; None unless one of them has two values at different times."""
    times = [at for line in series for at, _ in line.values]
    if not times or not any(line.values[0][0] < line.values[-1][0] for line in series if line.values):
        return None
    named = LABEL_ROOM if any(line.name for line in series) else 0.0
    plot = (LEFT, TOP, width - RIGHT - named, height - BOTTOM)
    shown = [value for line in series for _, value in line.values] + ([] if goal is None else [goal])
    low, high, step = _scale(min(shown), max(shown))
    # In UTC: two times of one zone are subtracted as wall times.
    begins, ends = min(times).astimezone(UTC), max(times).astimezone(UTC)

    def x(at: datetime) -> float:
        return plot[0] + (plot[2] - plot[0]) * ((at.astimezone(UTC) - begins) / (ends - begins))

    def y(value: float) -> float:
        return plot[3] - (plot[3] - plot[1]) * (value - low) / (high - low)

    drawn = [tuple((x(at), y(value)) for at, value in line.values) for line in series]
    labels = _apart([points[-1][1] for points in drawn])
    return Chart(
        title=title,
        unit=unit,
        width=width,
        height=height,
        plot=plot,
        lines=tuple(
            Line(line.name, points, DASHES[number % len(DASHES)], plot[2] + 6, label)
            for number, (line, points, label) in enumerate(zip(series, drawn, labels, strict=True))
        ),
        x_ticks=tuple(Tick(x(at), f"{at:%b} {at.day}") for at in _midnights(begins, ends, zone)),
        y_ticks=tuple(
            Tick(y(value), f"{value:g}") for value in (low + step * n for n in range(round((high - low) / step) + 1))
        ),
        goal_y=None if goal is None else y(goal),
        goal=goal,
        said=_said(series, goal, zone),
    )


def _scale(low: float, high: float) -> tuple[float, float, float]:
    """Round bounds around the values and the step between marks: 1, 2 or 5 times a power of ten."""
    span = (high - low) or max(abs(high), 1.0)
    power = 10 ** floor(log10(span / Y_TICKS))
    step = next(factor * power for factor in (1, 2, 5, 10) if factor * power * Y_TICKS >= span)
    bottom = max(floor(low / step) * step, 0.0) if low >= 0 else floor(low / step) * step
    top = ceil(high / step) * step
    return bottom, top if top > bottom else bottom + step, step


def _midnights(begins: datetime, ends: datetime, zone: ZoneInfo, *, at_most: int = 7) -> list[datetime]:
    """The local midnights between, thinned out where there are many."""
    first = begins.astimezone(zone).replace(hour=0, minute=0, second=0, microsecond=0)
    found = []
    for number in range(1, (ends - begins).days + 3):
        # Wall time: the next local midnight, also over a night on which clocks change.
        midnight = first + timedelta(days=number)
        if begins <= midnight <= ends:
            found.append(midnight)
    return found[:: ceil(len(found) / at_most)] if found else []


def _apart(wanted: Sequence[float]) -> list[float]:
    """The wanted heights, pushed down where two would lie over one another."""
    order = sorted(range(len(wanted)), key=lambda n: wanted[n])
    placed = list(wanted)
    for above, below in pairwise(order):
        placed[below] = max(placed[below], placed[above] + LABEL_STEP)
    return placed


def _said(series: Sequence[Series], goal: float | None, zone: ZoneInfo) -> str:
    parts = []
    for line in series:
        (began, first), (ended, last) = line.values[0], line.values[-1]
        began, ended = began.astimezone(zone), ended.astimezone(zone)
        name = f"{line.name}: " if line.name else ""
        parts.append(f"{name}{first:g} on {began:%b} {began.day}, {last:g} on {ended:%b} {ended.day}")
    return "; ".join(parts) + ("" if goal is None else f". Goal {goal:g}.")
