"""
Driving times and lengths between places: as given, or estimated from the map.

The estimate is the great circle, lengthened by a detour factor, driven at a speed that grows with the length.
Both settings are data with their source, so that a company can put its own beside them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from dispatch.planner.problem import Place, Problem, Travel

# IUGG mean earth radius R1 in metres; Moritz (2000), Geodetic Reference System 1980, J. Geodesy 74, 128-133.
EARTH_RADIUS_M = 6_371_008.8
METERS_PER_MILE = 1609.344


@dataclass(frozen=True)
class SpeedBand:
    """Miles of a drive up to ``up_to_mi`` (from the band before) are driven at ``mph``; null = without end."""

    up_to_mi: float | None
    mph: float


@dataclass(frozen=True)
class Estimate:
    """Settings of the estimate, with where they come from."""

    detour_factor: float
    bands: tuple[SpeedBand, ...]
    source: str

    def __post_init__(self) -> None:
        if self.detour_factor < 1:
            raise ValueError("a road is never shorter than the great circle: the detour factor is 1 or more")
        if not self.bands or self.bands[-1].up_to_mi is not None:
            raise ValueError("the last speed band must be without end")


DEFAULT_ESTIMATE = Estimate(
    detour_factor=1.3,
    bands=(SpeedBand(4, 22), SpeedBand(12, 36), SpeedBand(30, 50), SpeedBand(None, 61)),
    source=(
        "detour factor: between 1.2 for the United States (Ballou, Rahardja & Sakai 2002, Transportation Research "
        "Part A 36(9), 843-848) and 1.417 (Boscoe, Henry & Zdeb 2012, The Professional Geographer 64(2), 188-196), "
        "both from memory; speed by distance: common practice, no source"
    ),
)


def great_circle_m(places: Sequence[Place]) -> NDArray[np.float64]:
    """Great-circle lengths in metres between all places, by the haversine formula; shape (n, n), symmetric."""
    lat = np.radians(np.array([p.lat for p in places], dtype=np.float64))
    lon = np.radians(np.array([p.lon for p in places], dtype=np.float64))
    half_lat = np.sin((lat[:, None] - lat[None, :]) / 2)
    half_lon = np.sin((lon[:, None] - lon[None, :]) / 2)
    h = half_lat**2 + np.cos(lat)[:, None] * np.cos(lat)[None, :] * half_lon**2
    length: NDArray[np.float64] = 2 * EARTH_RADIUS_M * np.arcsin(np.sqrt(np.clip(h, 0.0, 1.0)))
    return length


def driving_s(road_m: NDArray[np.float64], bands: Sequence[SpeedBand]) -> NDArray[np.float64]:
    """Seconds to drive ``road_m`` metres, each stretch at the speed of its band."""
    seconds = np.zeros_like(road_m)
    begin_m = 0.0
    for band in bands:
        end_m = np.inf if band.up_to_mi is None else band.up_to_mi * METERS_PER_MILE
        stretch_m = np.clip(road_m, begin_m, end_m) - begin_m
        seconds += stretch_m / (band.mph * METERS_PER_MILE / 3600)
        begin_m = end_m
    return seconds


def estimate(places: Sequence[Place], settings: Estimate = DEFAULT_ESTIMATE) -> Travel:
    """Travel between all places by the estimate, rounded up to whole metres and seconds."""
    return _estimated(tuple(places), settings)


@lru_cache(maxsize=16)
def _estimated(places: tuple[Place, ...], settings: Estimate) -> Travel:
    road_m = great_circle_m(places) * settings.detour_factor
    # Rounded up: a plan that holds must also hold on the road.
    meters = np.ceil(road_m).astype(np.int64).tolist()
    seconds = np.ceil(driving_s(road_m, settings.bands)).astype(np.int64).tolist()
    # Made by us from floats just computed: validating half a million cells again would only cost time.
    return Travel.model_construct(seconds=tuple(map(tuple, seconds)), meters=tuple(map(tuple, meters)))


def travel_of(problem: Problem) -> Travel:
    """The travel that holds for a problem: its own, or the estimate where it gives none."""
    return problem.travel if problem.travel is not None else estimate(problem.places)
