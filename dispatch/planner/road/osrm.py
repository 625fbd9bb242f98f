"""
The table service of OSRM: ``GET /table/v1/{profile}/{lon,lat;...}``, as its HTTP API documentation (v5) describes it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from dispatch.planner.road import RoadUnavailable
from dispatch.planner.road.http import answer, base_url
from dispatch.planner.road.tables import Cell, Point, cell_of, rows_of


@dataclass(frozen=True)
class Osrm:
    """A running OSRM server; ``most_points`` is its ``--max-table-size``, 100 unless it was started otherwise."""

    url: str
    profile: str = "driving"
    timeout_s: float = 5.0
    most_points: int = 100
    name: str = "OSRM"

    def __post_init__(self) -> None:
        base_url(self.url)

    def table(self, sources: Sequence[Point], targets: Sequence[Point]) -> list[list[Cell]]:
        """Drives from every source to every target."""
        if not sources or not targets:
            return [[] for _ in sources]
        points = [*sources, *targets]
        coordinates = ";".join(f"{lon},{lat}" for lat, lon in points)
        first = ";".join(str(i) for i in range(len(sources)))
        second = ";".join(str(i) for i in range(len(sources), len(points)))
        query = f"sources={first}&destinations={second}&annotations=duration,distance"
        told = answer(f"{base_url(self.url)}/table/v1/{self.profile}/{coordinates}?{query}", self.timeout_s)
        if told.get("code") != "Ok":
            raise RoadUnavailable(f"the road service refused the question ({str(told.get('code'))[:40]}).")
        seconds = rows_of(told.get("durations"), len(sources), len(targets))
        meters = rows_of(told.get("distances"), len(sources), len(targets))
        return [
            [cell_of(s, m) for s, m in zip(row_s, row_m, strict=True)]
            for row_s, row_m in zip(seconds, meters, strict=True)
        ]
