"""What came of a run, from its log alone; a promise that nobody kept counts whether or not it was ever served."""

from __future__ import annotations

import statistics
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from dispatch.rehearsal.sim.facts import DAY_S, FIRST, MONITOR, Job
from dispatch.rehearsal.sim.records import Log

HOUR_S = 3600


@dataclass(frozen=True)
class Window:
    """The days that are measured, half-open, in seconds; before them the company fills, after them it catches up."""

    from_s: int
    until_s: int
    end_s: int
    """When the run stops: what is due by then and not done is a broken promise."""

    @classmethod
    def of_days(cls, first: int, days: int, whole: int) -> Window:
        """From day ``first`` on so many days, in a run of ``whole`` days."""
        return cls(first * DAY_S, (first + days) * DAY_S, whole * DAY_S)

    def holds(self, moment_s: int) -> bool:
        return self.from_s <= moment_s < self.until_s


@dataclass(frozen=True)
class Measures:
    """
    One run in figures. ``arrivals_min`` are the minutes from the first ring to the door, of callers who wanted
    somebody at once (an agreed later time stands apart), those who were never served left out.
    """

    calls: int
    urgent_calls: int
    visits: int
    arrivals_min: tuple[int, ...]
    never_served: int
    arrivals_kept: int
    arrivals_broken: int
    visits_kept: int
    visits_broken: int
    days_to_dry: tuple[float, ...]
    jobs_short: int
    units_short: Mapping[str, int]
    drive_h: float
    overtime_h: float
    paid_h: float
    crews_stayed_home: int
    waiting_by_hour: tuple[int, ...]

    def as_document(self) -> dict[str, Any]:
        """As the result's JSON and the table have it."""
        kept = self.arrivals_kept + self.visits_kept
        broken = self.arrivals_broken + self.visits_broken
        return {
            "calls": self.calls,
            "urgent_calls": self.urgent_calls,
            "visits": self.visits,
            "arrival_median_min": _quantile(self.arrivals_min, 0.5),
            "arrival_p90_min": _quantile(self.arrivals_min, 0.9),
            "never_served": self.never_served,
            "promises_kept_pct": _percent(kept, kept + broken),
            "arrivals_kept_pct": _percent(self.arrivals_kept, self.arrivals_kept + self.arrivals_broken),
            "visits_kept_pct": _percent(self.visits_kept, self.visits_kept + self.visits_broken),
            "days_to_dry_median": _quantile(self.days_to_dry, 0.5),
            "days_to_dry_p90": _quantile(self.days_to_dry, 0.9),
            "jobs_short": self.jobs_short,
            "units_short": sum(self.units_short.values()),
            "drive_h": self.drive_h,
            "overtime_h": self.overtime_h,
            "paid_h": self.paid_h,
            "crews_stayed_home": self.crews_stayed_home,
        }


def measured(log: Log, jobs: Sequence[Job], window: Window) -> Measures:
    """The figures of the calls and visits that belong to the window."""
    mine = {job.number: job for job in jobs if window.holds(job.called_s)}
    firsts = {row.job: row for row in log.seen if row.kind == FIRST}
    urgent = [number for number, job in mine.items() if job.urgent]
    served = {number: firsts[number] for number in mine if number in firsts}
    arrivals = sorted(
        (served[number].arrive_s - mine[number].called_s + 30) // 60 for number in urgent if number in served
    )
    kept, broken = Counter[str](), Counter[str]()
    for row in log.seen:
        if row.job in mine if row.kind == FIRST else row.kind == MONITOR and window.holds(row.due_s - 1):
            part = "arrival" if row.kind == FIRST else "visit"
            (kept if row.arrive_s <= row.due_s else broken)[part] += 1
    for _, job, kind, due_s in log.still_open:
        if due_s < window.end_s and (job in mine if kind == FIRST else kind == MONITOR and window.holds(due_s - 1)):
            broken["arrival" if kind == FIRST else "visit"] += 1
    short = [lack for lack in log.short if lack.job in mine]
    units: Counter[str] = Counter()
    for lack in short:
        units[lack.kind] += lack.count
    worked = [row for row in log.worked if window.holds(row.from_s)]
    return Measures(
        calls=len(mine),
        urgent_calls=len(urgent),
        visits=sum(window.holds(row.arrive_s) for row in log.seen),
        arrivals_min=tuple(arrivals),
        never_served=sum(number not in served for number in urgent),
        arrivals_kept=kept["arrival"],
        arrivals_broken=broken["arrival"],
        visits_kept=kept["visit"],
        visits_broken=broken["visit"],
        days_to_dry=tuple(sorted(round(days, 2) for number, days in log.dry.items() if number in mine)),
        jobs_short=len({lack.job for lack in short}),
        units_short=dict(sorted(units.items())),
        drive_h=round(sum(row.driving_s for row in worked) / HOUR_S, 1),
        overtime_h=round(sum(row.overtime_s for row in worked) / HOUR_S, 1),
        paid_h=round(sum(row.end_s - row.from_s for row in worked) / HOUR_S, 1),
        crews_stayed_home=log.stayed_home,
        waiting_by_hour=_waiting([mine[number] for number in urgent], served, window),
    )


def _waiting(urgent: Sequence[Job], served: Mapping[int, Any], window: Window) -> tuple[int, ...]:
    """How many callers who wanted somebody at once were waiting at each full hour."""
    hours = range(window.from_s, window.end_s, HOUR_S)
    spans = [(job.called_s, served[job.number].arrive_s if job.number in served else window.end_s) for job in urgent]
    return tuple(sum(rang_s <= hour < there_s for rang_s, there_s in spans) for hour in hours)


def mean_of(documents: Sequence[Mapping[str, Any]]) -> dict[str, float | None]:
    """Each figure's mean over the runs that have it."""
    found: dict[str, float | None] = {}
    for name in documents[0]:
        values = [row[name] for row in documents if row[name] is not None]
        found[name] = round(statistics.fmean(values), 2) if values else None
    return found


def _quantile(values: Sequence[float], share: float) -> float | None:
    """The smallest value that so many of the values do not exceed."""
    if not values:
        return None
    ordered = sorted(values)
    return ordered[max(0, -(-len(ordered) * round(share * 100) // 100) - 1)]


def _percent(part: int, whole: int) -> float | None:
    return round(100 * part / whole, 2) if whole else None
