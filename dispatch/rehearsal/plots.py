"""The plots of a rehearsal's report as plain geometry; lines differ by dashes as well, never by color alone."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

WIDTH, HEIGHT = 640, 260
LEFT, RIGHT, TOP, BOTTOM = 52, 16, 12, 34
DASHES = ("", "7 4", "2 4", "10 4 2 4", "1 6")
SHADES = ("#0b5a8a", "#a2490a", "#3d6b1f", "#6a3a8f", "#555555")


@dataclass(frozen=True)
class Curve:
    """One line: its name, its points as an SVG attribute, how it is drawn."""

    name: str
    points: str
    dash: str
    shade: str


@dataclass(frozen=True)
class Mark:
    """A mark on an axis."""

    at: float
    words: str


@dataclass(frozen=True)
class Plot:
    """A line plot; `said` tells it in words."""

    title: str
    said: str
    across: str
    up: str
    curves: tuple[Curve, ...]
    x_marks: tuple[Mark, ...]
    y_marks: tuple[Mark, ...]
    width: int = WIDTH
    height: int = HEIGHT
    left: int = LEFT
    right: int = WIDTH - RIGHT
    top: int = TOP
    bottom: int = HEIGHT - BOTTOM


@dataclass(frozen=True)
class Dot:
    """One run among the bars: its value and where it stands, in percent of the bar's room."""

    at: float


@dataclass(frozen=True)
class Bar:
    """The mean of one rule and fleet, with each of its runs as a dot."""

    name: str
    value: float
    width: float
    dots: tuple[Dot, ...]
    y: float


@dataclass(frozen=True)
class Bars:
    """Bars on one scale, beginning at nothing."""

    title: str
    said: str
    unit: str
    bars: tuple[Bar, ...]
    height: int


ROW, BAR_ROOM = 34, 100.0


def share_by_minutes(title: str, runs: Mapping[str, Sequence[float]], *, unit: str, said: str) -> Plot:
    """How large a share was done within so long, by name; cut where nineteen of twenty are in."""
    every = sorted(value for values in runs.values() for value in values)
    most = every[int(len(every) * 0.95)] if every else 1
    lines = {}
    for name, values in runs.items():
        ordered = sorted(values)
        steps = [(value, 100 * (number + 1) / len(ordered)) for number, value in enumerate(ordered) if value <= most]
        lines[name] = [(0.0, 0.0), *_thinned(steps)]
    return _plot(title, said, unit, "%", lines, most=float(most), top=100)


def by_hour(title: str, runs: Mapping[str, Sequence[float]], *, said: str) -> Plot:
    """A figure hour by hour, marked by days."""
    most = max((len(values) for values in runs.values()), default=1)
    top = max((value for values in runs.values() for value in values), default=1) or 1
    lines = {name: [(float(hour), float(value)) for hour, value in enumerate(values)] for name, values in runs.items()}
    plot = _plot(title, said, "day", "callers", lines, most=float(most), top=top)
    step = 24 * max(1, most // 24 // 8)
    days = tuple(Mark(_x(hour, most), str(hour // 24 + 1)) for hour in range(0, most, step))
    return Plot(**{**plot.__dict__, "x_marks": days})


def bars(title: str, values: Mapping[str, Sequence[float]], *, unit: str, said: str) -> Bars:
    """The mean of each with its runs as dots."""
    top = max((value for runs in values.values() for value in runs), default=1) or 1
    rows = [
        Bar(
            name,
            round(sum(runs) / len(runs), 1),
            round(BAR_ROOM * sum(runs) / len(runs) / top, 2),
            tuple(Dot(round(BAR_ROOM * run / top, 2)) for run in runs) if len(runs) > 1 else (),
            y=number * ROW,
        )
        for number, (name, runs) in enumerate(values.items())
        if runs
    ]
    return Bars(title, said, unit, tuple(rows), height=ROW * len(rows))


def _plot(
    title: str,
    said: str,
    across: str,
    up: str,
    lines: Mapping[str, Sequence[tuple[float, float]]],
    *,
    most: float,
    top: float,
) -> Plot:
    most, top = max(most, 1e-9), max(top, 1e-9)
    room = HEIGHT - BOTTOM - TOP
    curves = tuple(
        Curve(
            name,
            " ".join(f"{_x(x, most):.1f},{HEIGHT - BOTTOM - room * y / top:.1f}" for x, y in points),
            DASHES[number % len(DASHES)],
            SHADES[number % len(SHADES)],
        )
        for number, (name, points) in enumerate(lines.items())
    )
    y_marks = tuple(Mark(HEIGHT - BOTTOM - room * y / top, f"{y:g}") for y in _marks(top))
    return Plot(title, said, across, up, curves, tuple(Mark(_x(x, most), f"{x:g}") for x in _marks(most)), y_marks)


def _x(value: float, most: float) -> float:
    return round(LEFT + (WIDTH - LEFT - RIGHT) * value / most, 1)


def _marks(top: float) -> tuple[float, ...]:
    """From four to eight round values up to the top."""
    step = next(size for power in range(-2, 7) for size in (10**power, 2 * 10**power, 5 * 10**power) if top / size <= 8)
    return tuple(step * number for number in range(int(top / step + 1e-9) + 1))


def _thinned(points: Sequence[tuple[float, float]], most: int = 200) -> list[tuple[float, float]]:
    every = max(1, len(points) // most)
    kept = list(points[::every])
    return kept if not points or kept[-1] == points[-1] else [*kept, points[-1]]
