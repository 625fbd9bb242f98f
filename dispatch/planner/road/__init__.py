"""
Travel times by road, behind one interface: the estimate, or a routing engine's table service over HTTP.

A road service may be slow, away or unable to reach a place. Planning then goes on with the estimate, and says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from dispatch.planner.problem import Place, Travel
from dispatch.planner.travel import DEFAULT_ESTIMATE, Estimate, estimate


@dataclass(frozen=True)
class Measured:
    """Travel between places, where it comes from, and what a dispatcher should know about it."""

    travel: Travel
    source: str
    notes: tuple[str, ...] = ()


class TravelTimes(Protocol):
    """Seconds and metres between all places, row = from, column = to, in their order."""

    def between(self, places: Sequence[Place]) -> Measured: ...


class RoadUnavailable(RuntimeError):
    """A road service did not give a usable table; ``why`` says it in a sentence for a dispatcher."""

    def __init__(self, why: str) -> None:
        super().__init__(why)
        self.why = why


@dataclass(frozen=True)
class Estimated:
    """The great circle with a detour factor: always there, never exact."""

    settings: Estimate = DEFAULT_ESTIMATE

    def between(self, places: Sequence[Place]) -> Measured:
        return Measured(estimate(places, self.settings), "estimate")
