"""What was read before, beside the fields for today, and what it means; for the phone at a stop."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from jobs.charts import Chart, log_charts
from jobs.drying_log import AirLine, DryingLog, PointLine, drying_log
from jobs.expected_dry import ExpectedDry, expected_dry
from jobs.models import AirReading

SCALE_WORDS = {"percent_mc": "% MC", "relative_0_100": "relative, 0 to 100"}


@dataclass(frozen=True)
class AirToday:
    """One place where air is read: its newest values, one for each chamber and each dehumidifier."""

    where: str
    label: str
    last: tuple[AirLine, ...]


@dataclass(frozen=True)
class PointToday:
    """A material point: the last two values beside the field for today's. `fell_by_a_day` in its scale's units."""

    point_id: int
    number: int
    room: str
    material: str
    meter: str
    scale: str
    goal: float
    at_goal: bool
    last: float | None
    last_at: datetime | None
    before: float | None
    before_at: datetime | None
    fell_by_a_day: float | None

    @property
    def field(self) -> str:
        """The name of its field on the page."""
        return f"p_{self.point_id}"

    @property
    def trend(self) -> str:
        """The way from the value before the last one, in words; empty without two values."""
        if self.fell_by_a_day is None:
            return ""
        if abs(self.fell_by_a_day) < 0.05:
            return "No change"
        return f"{'Falling' if self.fell_by_a_day > 0 else 'Rising'} {abs(self.fell_by_a_day):g} a day"


@dataclass(frozen=True)
class ReadingsToday:
    """Everything that the readings form shows of the days before."""

    air: tuple[AirToday, ...]
    points: tuple[PointToday, ...]
    dry: ExpectedDry | None
    charts: tuple[Chart, ...]
    log: DryingLog


def readings_today(*, job_id: int, now: datetime, zone: ZoneInfo) -> ReadingsToday:
    """The job's readings as the crew needs them today (4 queries); days are those of `zone`."""
    log = drying_log(job_id)
    points = tuple(_point(line) for line in log.points)
    return ReadingsToday(_air(log), points, _dry(log, now), log_charts(log.points, log.air, zone), log)


def _air(log: DryingLog) -> tuple[AirToday, ...]:
    newest: dict[str, dict[tuple[str, str], AirLine]] = defaultdict(dict)
    for line in log.air:
        newest[line.where][line.chamber, line.unit_number] = line
    return tuple(
        AirToday(where, label, tuple(newest[where][each] for each in sorted(newest[where])))
        for where, label in AirReading.Where.choices
    )


def _point(line: PointLine) -> PointToday:
    return PointToday(
        line.point_id,
        line.number,
        line.room_name,
        line.material.replace("_", " "),
        line.meter,
        SCALE_WORDS.get(line.scale, line.scale.replace("_", " ")),
        line.goal,
        line.at_goal,
        line.last.value if line.last else None,
        line.last.taken_at if line.last else None,
        line.before.value if line.before else None,
        line.before.taken_at if line.before else None,
        line.fell_by_a_day,
    )


def _dry(log: DryingLog, now: datetime) -> ExpectedDry | None:
    """Nothing is said of a job without a reading, or with every point at its goal."""
    if log.above_goal == 0 or not any(point.last for point in log.points):
        return None
    return expected_dry(log, now=now)
