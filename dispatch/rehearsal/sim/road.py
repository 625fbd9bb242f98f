"""Driving times between places as the planner estimates them, or as a test sets them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache

from dispatch.planner.problem import Place, Travel
from dispatch.planner.travel import estimate


class Road:
    """
    Seconds from place to place.

    :param seconds: a function of two places; without it the planner's own estimate.
    """

    def __init__(self, seconds: Callable[[Place, Place], int] | None = None) -> None:
        self.given = seconds

    def drive_s(self, origin: Place, to: Place) -> int:
        """Whole seconds of driving."""
        if self.given is not None:
            return self.given(origin, to)
        return _estimated(origin.lat, origin.lon, to.lat, to.lon)

    def table(self, places: Sequence[Place]) -> Travel | None:
        """For the planner: None where it estimates by itself."""
        if self.given is None:
            return None
        rows = tuple(tuple(self.given(a, b) for b in places) for a in places)
        return Travel(seconds=rows, meters=rows)


@lru_cache(maxsize=200_000)
def _estimated(from_lat: float, from_lon: float, to_lat: float, to_lon: float) -> int:
    pair = (Place(id="from", lat=from_lat, lon=from_lon), Place(id="to", lat=to_lat, lon=to_lon))
    return estimate(pair).seconds[0][1]
