"""
How honest the drying forecast is, on invented jobs whose true end is known.

    python -m tests.bench.bench_forecast [first_seed] [jobs_per_class]

Each job draws its own rate, equilibrium, scatter of the meter, missed days and changes of equipment (two in three told
to the forecast, the rest not, and some still to come). One class does not follow the fitted law at all. Printed for
each class: share of ends inside the range (it claims 80 %), median width, mean miss of the likely days against that of
the usual days of the material, and the share of readings that gave no forecast.

Seeds below 1,000,000 were for tuning; the figures reported are of seeds from 1,000,000 on.
"""

from __future__ import annotations

import math
import random
import statistics
import sys
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from jobs.science.drying_days import WetMaterial, drying_days
from jobs.science.forecast import Forecast, NoForecast, Reading, forecast_point

START = datetime(2026, 3, 2, 9, tzinfo=UTC)
REPORTED_FROM = 1_000_000
MATERIALS = ("carpet", "drywall", "wood_framing", "plaster", "hardwood_floor")
CLASSES = (*MATERIALS, "not first order")


@dataclass(frozen=True)
class InventedJob:
    """A true course of one point, and what the desk knows of it."""

    goal: float
    believed_equilibrium: float
    usual_days: tuple[float, float, float]
    changes: tuple[float, ...]
    told: tuple[datetime, ...]
    readings: tuple[Reading, ...]
    end_days: float


def invent(klass: str, seed: int) -> InventedJob:
    """One job: the material's usual days hold its true days, without changes, four times in five."""
    draw = random.Random(f"{klass} {seed}")
    material = klass if klass in MATERIALS else draw.choice(MATERIALS)
    power = 1.0 if klass in MATERIALS else draw.uniform(0.85, 1.2)
    usual = drying_days([WetMaterial(material)])
    assert usual is not None
    low, likely, high = usual.low, usual.likely, usual.high
    goal = draw.uniform(11, 16)
    believed = goal - draw.uniform(2, 5)
    true_rest = min(believed + draw.gauss(0, (goal - believed) / 4), goal - 0.4)
    first = draw.uniform(goal + 6, goal + 25)
    days = likely * math.exp(draw.gauss(0, math.log(high / low) / 2.5632))
    needed = math.log((first - true_rest) / (goal - true_rest))
    rate = needed ** (1 / power) / days
    scatter = draw.uniform(0.01, 0.05) * (first - true_rest)
    changes = tuple(sorted(draw.uniform(0.5, 1.2 * days) for _ in range(draw.choice((0, 0, 0, 1, 1, 2)))))
    factors = [math.exp(draw.gauss(0.05, 0.25)) for _ in changes]

    def effective(day: float) -> float:
        """Days at the first rate that do as much as all rates up to this day."""
        done, at, factor = 0.0, 0.0, 1.0
        for change, by in zip(changes, factors, strict=True):
            if change >= day:
                break
            done, at, factor = done + (change - at) * factor, change, factor * by
        return done + (day - at) * factor

    def level(day: float) -> float:
        return true_rest + (first - true_rest) * math.exp(-((rate * effective(day)) ** power))

    reach = 0.0
    while level(reach) > goal:
        reach += 0.01
    readings = []
    for whole in range(math.ceil(reach) + 1):
        day = max(0.0, whole + draw.uniform(-0.15, 0.15))
        if day < reach and (whole == 0 or draw.random() > 0.15):
            value = max(0.0, level(day) + draw.gauss(0, scatter))
            readings.append(Reading("p", "pin meter", "wood %", START + timedelta(days=day), round(value, 1)))
    told = tuple(START + timedelta(days=change) for change in changes if draw.random() < 2 / 3)
    return InventedJob(goal, believed, (low, likely, high), changes, told, tuple(readings), reach)


@dataclass
class Tally:
    inside: int = 0
    forecasts: int = 0
    asked: int = 0
    widths: list[float] = field(default_factory=list)
    misses: list[float] = field(default_factory=list)
    usual_misses: list[float] = field(default_factory=list)


def measure(klass: str, seeds: range) -> Tally:
    """Every forecast from the third reading on."""
    tally = Tally()
    for seed in seeds:
        job = invent(klass, seed)
        for count in range(3, len(job.readings) + 1):
            seen = job.readings[:count]
            elapsed = (seen[-1].taken_at - START) / timedelta(days=1)
            found: Forecast | NoForecast = forecast_point(
                seen,
                goal=job.goal,
                equilibrium=job.believed_equilibrium,
                usual_days=job.usual_days,
                equipment_changed_at=[at for at in job.told if at < seen[-1].taken_at],
            )
            tally.asked += 1
            if isinstance(found, NoForecast):
                continue
            left = job.end_days - elapsed
            tally.forecasts += 1
            tally.inside += found.low_days <= left <= found.high_days
            tally.widths.append(found.high_days - found.low_days)
            tally.misses.append(abs(found.likely_days - left))
            tally.usual_misses.append(abs(max(0.0, job.usual_days[1] - elapsed) - left))
    return tally


def main(first_seed: int = REPORTED_FROM, jobs: int = 300) -> None:
    print(f"{'class':<16} {'forecasts':>9} {'inside':>7} {'width':>6} {'miss':>5} {'usual':>6} {'none':>6}")
    every = Tally()
    for klass in CLASSES:
        tally = measure(klass, range(first_seed, first_seed + jobs))
        _row(klass, tally)
        every.inside += tally.inside
        every.forecasts += tally.forecasts
        every.asked += tally.asked
        for name in ("widths", "misses", "usual_misses"):
            getattr(every, name).extend(getattr(tally, name))
    _row("all", every)


def _row(name: str, tally: Tally) -> None:
    inside, none = tally.inside / tally.forecasts, 1 - tally.forecasts / tally.asked
    width, miss = statistics.median(tally.widths), statistics.mean(tally.misses)
    usual = statistics.mean(tally.usual_misses)
    print(f"{name:<16} {tally.forecasts:>9} {inside:>7.1%} {width:>6.2f} {miss:>5.2f} {usual:>6.2f} {none:>6.1%}")


if __name__ == "__main__":
    main(*(int(argument) for argument in sys.argv[1:3]))
