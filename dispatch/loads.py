"""What one vehicle takes of a load, and what is left for the next: pure arithmetic over units by kind."""

from collections.abc import Iterable, Mapping

Load = dict[str, int]


def that_fits(needed: Mapping[str, int], capacity: Mapping[str, int]) -> Load:
    """The part of a need that a vehicle of this capacity takes; a kind that it does not name takes none."""
    part = {kind: min(count, capacity.get(kind, 0)) for kind, count in needed.items()}
    return {kind: count for kind, count in part.items() if count}


def first_load(needed: Mapping[str, int], capacities: Iterable[Mapping[str, int]]) -> Load:
    """
    The largest part of a need that one of the vehicles takes (most units; the first among equals).

    Without vehicles the whole need, so that the lack of a vehicle is what is told.
    """
    parts = [that_fits(needed, capacity) for capacity in capacities]
    return max(parts, key=lambda part: sum(part.values()), default=dict(needed))


def left_of(needed: Mapping[str, int], load: Mapping[str, int]) -> Load:
    """What a load leaves of a need."""
    rest = {kind: count - load.get(kind, 0) for kind, count in needed.items()}
    return {kind: count for kind, count in rest.items() if count > 0}


def further_loads(rest: Mapping[str, int], capacities: Iterable[Mapping[str, int]]) -> tuple[Load, ...]:
    """The loads after the first, each as large as one vehicle takes; what fits on none stands alone at the end."""
    vehicles, left = list(capacities), dict(rest)
    loads: list[Load] = []
    while left:
        load = first_load(left, vehicles)
        if not load:
            return (*loads, left)
        loads.append(load)
        left = left_of(left, load)
    return tuple(loads)
