"""
The matrix service of Valhalla: ``POST /sources_to_targets``, as its API documentation describes it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from dispatch.planner.road import RoadUnavailable
from dispatch.planner.road.http import answer, base_url
from dispatch.planner.road.tables import Cell, Point, cell_of, rows_of


@dataclass(frozen=True)
class Valhalla:
    """A running Valhalla service; ``most_points`` follows its ``max_matrix_location_pairs``, 2,500 by default."""

    url: str
    costing: str = "auto"
    timeout_s: float = 5.0
    most_points: int = 100
    name: str = "Valhalla"

    def __post_init__(self) -> None:
        base_url(self.url)

    def table(self, sources: Sequence[Point], targets: Sequence[Point]) -> list[list[Cell]]:
        """Drives from every source to every target."""
        if not sources or not targets:
            return [[] for _ in sources]
        question = {
            "sources": [{"lat": lat, "lon": lon} for lat, lon in sources],
            "targets": [{"lat": lat, "lon": lon} for lat, lon in targets],
            "costing": self.costing,
            "units": "kilometers",
        }
        told = answer(f"{base_url(self.url)}/sources_to_targets", self.timeout_s, question)
        rows = rows_of(told.get("sources_to_targets"), len(sources), len(targets))
        return [[_cell(cell) for cell in row] for row in rows]


def _cell(cell: object) -> Cell:
    if cell is None:
        return None
    if not isinstance(cell, dict):
        raise RoadUnavailable("the road service answered with a drive that cannot be.")
    kilometers = cell.get("distance")
    meters = kilometers * 1000 if isinstance(kilometers, (int, float)) else kilometers
    return cell_of(cell.get("time"), meters)
