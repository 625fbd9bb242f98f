"""
Where one more visit would go on a crew's route, exactly: every position, with the way round to fetch equipment.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from dispatch.planner.cost import late_cost, moved_cost, preference_cost
from dispatch.planner.fitting import may_serve
from dispatch.planner.frame import Frame
from dispatch.planner.outlook import Outlook
from dispatch.planner.problem import Load
from dispatch.planner.schedule import Detour, Timed, departure, drive_s


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


def best_spot(outlook: Outlook, v: int, missing: Load) -> Spot | None:
    """
    The position of least added cost, the first among equals; null when no position holds.

    What is missing is fetched, for each position, from the stock place that gives the earliest start.
    """
    frame = outlook.frame
    if not may_come(outlook, v):
        return None
    detours = [Detour(v, place, load_s) for place, load_s in stocks_with(frame, missing)] if missing else [None]
    best: Spot | None = None
    for least, position in _open_positions(outlook, v, detours):
        if best is not None and least > best.added_cost:
            break
        spot = _at(outlook, v, position, detours)
        if spot is not None and (best is None or (spot.added_cost, spot.position) < (best.added_cost, best.position)):
            best = spot
    return best


def cheapest_spot(outlooks: Sequence[Outlook], v: int, below: int | None = None) -> Spot | None:
    """The cheapest position among all crews that adds less than ``below``, nothing fetched; null if there is none."""
    open_to = [
        (least, outlook.crew, position, outlook)
        for outlook in outlooks
        if may_come(outlook, v)
        for least, position in _open_positions(outlook, v, [None])
    ]
    best: Spot | None = None
    for least, _, position, outlook in sorted(open_to, key=lambda spot: spot[:3]):
        if below is not None and least >= below:
            break
        spot = _at(outlook, v, position, [None])
        if spot is not None and (below is None or spot.added_cost < below):
            below, best = spot.added_cost, spot
    return best


def may_come(outlook: Outlook, v: int) -> bool:
    """Whether nothing but its day's order keeps a crew from a visit."""
    frame, crew = outlook.frame, outlook.crew
    return frame.under_way_by.get(v, crew) == crew and may_serve(frame.crews[crew], frame.visits[v]) is None


def _open_positions(outlook: Outlook, v: int, detours: Sequence[Detour | None]) -> list[tuple[int, int]]:
    """Positions that the clock leaves open, by the least that they can add."""
    found: list[tuple[int, int]] = []
    for position in outlook.positions(v):
        least = [
            _least(outlook, v, position, start_s, detour)
            for detour in detours
            if (start_s := outlook.soonest_s(v, position, detour)) is not None
        ]
        if least:
            found.append((min(least), position))
    return sorted(found)


def _least(outlook: Outlook, v: int, position: int, start_s: int, detour: Detour | None) -> int:
    """What the visit adds at a position if it starts as soon as it can and nothing else moves."""
    frame, crew, visits = outlook.frame, outlook.crew, outlook.route.visits
    who, prices = frame.crews[crew], frame.problem.prices
    place, before = frame.visit_place[v], outlook.place_before(position)
    after = frame.visit_place[visits[position]] if position < len(visits) else frame.crew_end[crew]
    more_s, more_m = frame.seconds[before][place], frame.meters[before][place]
    away_s = drive_s(frame, before, v, detour)
    less_s = 0
    if detour is not None:
        added = detour.adds(frame, before, place)
        more_s, more_m = more_s + added[0], more_m + added[1]
    if after is not None:
        more_s, more_m = more_s + frame.seconds[place][after], more_m + frame.meters[place][after]
        away_s += frame.seconds[place][after]
        if visits:
            less_s = frame.seconds[before][after]
            more_s, more_m = more_s - less_s, more_m - frame.meters[before][after]
    least = prices.per_driving_second * more_s + prices.per_meter * more_m
    least += preference_cost(frame.visits[v], who) + (0 if visits else who.fixed) + late_cost(frame.visits[v], start_s)
    promised_s = frame.visits[v].promised_s
    if promised_s is not None:
        # Before the promise it could still wait for it.
        least += moved_cost(frame.visits[v], max(start_s, promised_s))
    # A drive that the new stop cuts short can also save lateness, overtime and moved promises.
    return least - outlook.route.cost if away_s + frame.visits[v].service_s < less_s else least


def _at(outlook: Outlook, v: int, position: int, detours: Sequence[Detour | None]) -> Spot | None:
    if not outlook.fits(v, position):
        return None
    best: tuple[int, int, Spot] | None = None
    for detour in detours:
        route = outlook.with_visit(v, position, detour)
        if isinstance(route, Timed):
            spot = Spot(outlook.crew, position, route.cost - outlook.route.cost, route, detour)
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
