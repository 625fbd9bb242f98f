"""
Where one more visit would go on a crew's route, exactly: every position, with the way round to fetch equipment.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from dispatch.planner.construct import spots_of
from dispatch.planner.cost import preference_cost
from dispatch.planner.frame import Frame
from dispatch.planner.problem import Load
from dispatch.planner.schedule import Detour, Timed, departure, schedule


@dataclass(frozen=True)
class Spot:
    """The best place for a visit on one crew's route: counted from the route's first stop, begun ones included."""

    crew: int
    position: int
    added_cost: int
    route: Timed
    detour: Detour | None = None


def shortage(frame: Frame, crew: int, v: int, others: Sequence[int]) -> dict[str, int]:
    """
    What the visit needs beyond what is aboard and not due at the crew's other open stops; empty where not known.
    """
    aboard = frame.crews[crew].aboard
    if aboard is None:
        return {}
    missing: dict[str, int] = {}
    for key, wanted in sorted(frame.visits[v].deliver.items()):
        due = sum(frame.visits[u].deliver.get(key, 0) for u in others)
        lacking = wanted - max(0, aboard.get(key, 0) - due)
        if lacking > 0:
            missing[key] = lacking
    return missing


def stocks_with(frame: Frame, missing: Mapping[str, int]) -> Iterator[tuple[int, int]]:
    """(place, seconds to load) of every stock place that has all that is missing."""
    for stock in frame.problem.stock:
        if all(stock.have.get(key, 0) >= wanted for key, wanted in missing.items()):
            yield frame.place_at[stock.place], stock.load_s


def best_spot(frame: Frame, crew: int, before: Timed, v: int, missing: Load) -> Spot | None:
    """
    The position of least added cost, the first among equals; null when no position holds.

    What is missing is fetched, for each position, from the stock place that gives the earliest start.
    """
    detours = [Detour(v, place, load_s) for place, load_s in stocks_with(frame, missing)] if missing else [None]
    best: Spot | None = None
    for least, _, position in _ordered(frame, crew, before, v, detours):
        if best is not None and least > best.added_cost:
            break
        spot = _at(frame, crew, before, v, position, detours)
        if spot is not None and (best is None or (spot.added_cost, spot.position) < (best.added_cost, best.position)):
            best = spot
    return best


def _ordered(
    frame: Frame, crew: int, before: Timed, v: int, detours: Sequence[Detour | None]
) -> list[tuple[int, int, int]]:
    """Positions by the least they can add. With a detour the straight drive bounds nothing, so its own is taken."""
    if detours and detours[0] is not None:
        whole = [
            (_least_by_detour(frame, crew, before, v, spot[2], detours), crew, spot[2])
            for spot in spots_of(frame, crew, before, v)
        ]
        return sorted(whole)
    return sorted(spots_of(frame, crew, before, v)) if detours else []


def _least_by_detour(
    frame: Frame, crew: int, before: Timed, v: int, position: int, detours: Sequence[Detour | None]
) -> int:
    who, prices, visits = frame.crews[crew], frame.problem.prices, before.visits
    longer = [*visits[:position], v, *visits[position:]]
    origin = frame.visit_place[longer[position - 1]] if position else frame.crew_start[crew]
    driving_s, driving_m = frame.driving(who, longer)
    least = None
    for detour in detours:
        assert detour is not None
        more_s, more_m = detour.adds(frame, origin, frame.visit_place[v])
        added = prices.per_driving_second * (driving_s + more_s) + prices.per_meter * (driving_m + more_m)
        least = added if least is None else min(least, added)
    # Everything but driving is counted as gone: a bound that holds even where drives break the triangle rule.
    return (least or 0) + preference_cost(frame.visits[v], who) + (0 if visits else who.fixed) - before.cost


def _at(frame: Frame, crew: int, before: Timed, v: int, position: int, detours: Sequence[Detour | None]) -> Spot | None:
    order = (*before.visits[:position], v, *before.visits[position:])
    best: tuple[int, int, Spot] | None = None
    for detour in detours:
        route = schedule(frame, crew, order, detour)
        if isinstance(route, Timed):
            spot = Spot(crew, position, route.cost - before.cost, route, detour)
            key = (route.starts_s[position], route.cost)
            if best is None or key < best[:2]:
                best = (*key, spot)
    return None if best is None else best[2]


def fetch_times(frame: Frame, spot: Spot) -> tuple[int, int]:
    """When the crew arrives at the stock place and when it leaves it, the break counted where it falls."""
    assert spot.detour is not None
    from_here = departure(frame, spot.crew)
    begun = len(frame.begun[spot.crew])
    if spot.position == begun:
        at, gone_s = from_here.place, from_here.reach_s
    else:
        previous = spot.route.visits[spot.position - 1]
        at = frame.visit_place[previous]
        gone_s = spot.route.starts_s[spot.position - 1] + frame.visits[previous].service_s
    arrive_s = gone_s + frame.seconds[at][spot.detour.place]
    leave_s = arrive_s + spot.detour.load_s
    rest = spot.route.break_span if frame.crews[spot.crew].break_taken is None else None
    if rest is not None and gone_s <= rest[0] and rest[1] <= spot.route.starts_s[spot.position]:
        arrive_s += rest[1] - rest[0] if rest[0] < arrive_s else 0
        leave_s += rest[1] - rest[0] if rest[0] < leave_s else 0
    return arrive_s, leave_s
