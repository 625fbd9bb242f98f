"""
A bound that costs next to nothing: each visit is driven to once, from somewhere, or left out at its price.

Weak, since every visit takes the shortest drive there is, but true of every plan, also of those never tried.
"""

from __future__ import annotations

import numpy as np

from dispatch.planner.frame import Frame


def floor_of(frame: Frame) -> int:
    """
    A cost below which no plan of the day can come, in the problem's unit.

    A must-serve visit counts only once it is begun: a plan may still have to leave it out, which costs nothing.
    """
    if not frame.visits:
        return 0
    prices = frame.problem.prices
    drive = prices.per_meter * np.array(frame.meters, dtype=np.int64)
    drive += prices.per_driving_second * np.array(frame.seconds, dtype=np.int64)
    places = np.array(frame.visit_place)
    between = drive[np.ix_(places, places)]
    np.fill_diagonal(between, np.iinfo(np.int64).max)
    nearest = between.min(axis=0)
    if frame.crew_start:
        nearest = np.minimum(nearest, drive[np.ix_(np.unique(frame.crew_start), places)].min(axis=0))
    total = sum(crew.fixed for crew in frame.crews if crew.begun)
    for v, visit in enumerate(frame.visits):
        served = int(nearest[v]) + _least_preference(frame, v)
        fixed = v in frame.begun_by
        total += served if fixed else min(served, visit.skip or 0)
    return total


def _least_preference(frame: Frame, v: int) -> int:
    prefer = frame.visits[v].prefer
    return min((prefer.get(crew.id, prefer.get("*", 0)) for crew in frame.crews), default=0)
