"""Machines by kind at warehouses; a machine is in one place, so every taking is a taking away."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping

from dispatch.rehearsal.sim.facts import Depot, Units


def part(wanted: Units, there: Units) -> dict[str, int]:
    """As much of what is wanted as is there."""
    found = {kind: min(count, there.get(kind, 0)) for kind, count in wanted.items()}
    return {kind: count for kind, count in found.items() if count > 0}


def rest(wanted: Units, got: Units) -> dict[str, int]:
    """What is still missing."""
    found = {kind: count - got.get(kind, 0) for kind, count in wanted.items()}
    return {kind: count for kind, count in found.items() if count > 0}


class Stock:
    """What stands ready, by warehouse."""

    def __init__(self, depots: Iterable[Depot]) -> None:
        self.ready: dict[str, Counter[str]] = {depot.place.id: Counter(depot.ready) for depot in depots}

    def take(self, depot: str, wanted: Units) -> dict[str, int]:
        """Take what is there of what is wanted."""
        got = part(wanted, self.ready[depot])
        self.ready[depot].subtract(got)
        return got

    def put(self, depot: str, units: Mapping[str, int]) -> None:
        """Cleaned and ready at that warehouse."""
        self.ready[depot].update(units)
