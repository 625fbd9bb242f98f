"""
The days until a first-order decay passes a goal, as a distribution over what the readings leave open.

y(t) = e + a exp(-k t) (the Lewis model of thin-layer drying). Open are the rate k, the equilibrium e, the height a
above it and the scatter of the meter; each is weighed by how well it explains the readings, starting from what is
usual for the material. Older readings and those from before a change of equipment count less for the rate.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

# Standard-normal nodes, the middles of five equal shares of the probability.
NORMAL_5: Floats = np.array([-1.2816, -0.5244, 0.0, 0.5244, 1.2816])
# Logs of the rate against the usual one: readings may tell of a wall that dries fifty times slower than walls do.
LOG_RATE: Floats = np.linspace(math.log(1 / 50), math.log(6), 61)
RATE_FREEDOM = 4.0
"""Degrees of freedom of the t distribution of rates: heavy tails, so that readings can overrule what is usual."""
SCATTER_OF_SPAN: Floats = np.array([0.01, 0.02, 0.04, 0.08])
Z_TENTH = 1.2816


@dataclass(frozen=True, slots=True)
class Tuning:
    """Set on synthetic jobs (tests/bench/bench_forecast.py); common practice, no source."""

    change_share_per_day: float = 0.20
    """Share of the height above equilibrium by which a reading from before a change misleads, for each day."""
    drift_share_per_day: float = 0.02
    """The same for every reading, for each day of age: rates creep as the easy water goes."""
    future_spread: float = 0.12
    """Standard deviation of the log of remaining days from what is still going to change on the job."""


@dataclass(frozen=True, slots=True)
class Quantiles:
    """Days from the last reading: tenth, middle and nine-tenths of the distribution."""

    low: float
    likely: float
    high: float


def days_to_goal(
    ages_days: Sequence[float],
    values: Sequence[float],
    *,
    goal: float,
    equilibrium: float,
    equilibrium_sd: float,
    usual_days: tuple[float, float, float],
    changed_days_ago: Sequence[float] = (),
    tuning: Tuning | None = None,
) -> Quantiles:
    """
    Quantiles of the days from the last reading until the decay passes the goal.

    :param ages_days: age of each reading against the last one, falling to 0.
    :param usual_days: low, likely and high days that the material usually takes from the first reading to its goal.
    :param changed_days_ago: when equipment was changed, against the last reading.
    """
    tuning = tuning or Tuning()
    age = np.asarray(ages_days, dtype=np.float64)
    y = np.asarray(values, dtype=np.float64)
    span = float(max(y.max() - equilibrium, goal - equilibrium))

    below = min(equilibrium_sd, (goal - equilibrium) / 2)
    e = equilibrium + below * NORMAL_5
    k, usual = _rates(float(y[0]), goal, equilibrium, usual_days)
    k4, e4, s4 = k[:, None, None], e[None, :, None], (SCATTER_OF_SPAN * span)[None, None, :]

    misleads = _misleads(age, y - equilibrium, changed_days_ago, tuning)
    grown = np.exp(k4[..., None] * age)
    weight = 1 / (s4[..., None] ** 2 + misleads**2)
    above = y - e4[..., None]
    information = (weight * grown**2).sum(-1)
    height = (weight * grown * above).sum(-1) / information
    left = above - height[..., None] * grown
    fit = -0.5 * (weight * left**2).sum(-1) + 0.5 * np.log(weight).sum(-1) - 0.5 * np.log(information)
    log_p = fit + usual[:, None, None]
    p = np.exp(log_p - log_p.max())

    heights = height[..., None] + NORMAL_5 / np.sqrt(information)[..., None]
    ratio = np.maximum(heights / (goal - e)[None, :, None, None], 1.0)
    days = np.log(ratio) / k4[..., None]
    spread = np.exp(tuning.future_spread * NORMAL_5)
    every = (days[..., None] * spread).ravel()
    chance = np.repeat(p.ravel(), NORMAL_5.size * NORMAL_5.size)
    low, likely, high = _quantiles(every, chance, (0.1, 0.5, 0.9))
    return Quantiles(low, likely, high)


def _rates(
    first: float, goal: float, equilibrium: float, usual_days: tuple[float, float, float]
) -> tuple[Floats, Floats]:
    """Rates a day from hardly drying to very fast, and how usual each is, as the log of its chance."""
    low, likely, high = usual_days
    # A job first read close to its goal still has the material's rate, not a rate of nothing.
    ratio = max((first - equilibrium) / (goal - equilibrium), 1.5)
    spread = max(math.log(high / low) / (2 * Z_TENTH), 0.2)
    z = LOG_RATE / spread
    rates: Floats = math.log(ratio) / likely * np.exp(LOG_RATE)
    usual: Floats = -(RATE_FREEDOM + 1) / 2 * np.log1p(z**2 / RATE_FREEDOM)
    return rates, usual


def _misleads(age: Floats, above: Floats, changed_days_ago: Sequence[float], tuning: Tuning) -> Floats:
    """How far each reading may lie off the present decay, in units of the reading."""
    days = tuning.drift_share_per_day * age
    for changed in changed_days_ago:
        days = days + tuning.change_share_per_day * np.maximum(age - changed, 0.0)
    out: Floats = days * np.abs(above)
    return out


def _quantiles(values: Floats, weights: Floats, at: Sequence[float]) -> list[float]:
    order = np.argsort(values, kind="stable")
    reached = np.cumsum(weights[order])
    return [float(values[order[min(int(np.searchsorted(reached, q * reached[-1])), len(order) - 1)]]) for q in at]
