"""
A first plan by greedy insertion. It never fails: what fits nowhere is left out, with the rule that kept it out.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from dispatch.planner.cost import preference_cost
from dispatch.planner.fitting import Misfit, may_serve
from dispatch.planner.frame import Frame
from dispatch.planner.schedule import EMPTY, Timed, schedule


@dataclass(frozen=True)
class Insertion:
    """One place for one visit: ``position`` counts from the route's first stop; ``added_cost`` is exact."""

    crew: int
    position: int
    added_cost: int
    route: Timed


@dataclass
class Draft:
    """A plan in the making: one timed route for each crew, and the visits that are left out."""

    routes: list[Timed]
    left_out: set[int] = field(default_factory=set)

    def cost(self, frame: Frame) -> int:
        """The cost as it stands, with the price of what is left out."""
        return sum(r.cost for r in self.routes) + sum(frame.visits[v].skip or 0 for v in self.left_out)

    def worth(self, frame: Frame) -> tuple[int, int]:
        """What drafts are compared by, less is better: must-serve visits left out, then the cost."""
        return sum(frame.visits[v].skip is None for v in self.left_out), self.cost(frame)


def locked(frame: Frame, crew: int) -> tuple[int, ...]:
    """The stops a crew's route starts with, whatever else is planned: the begun ones and the one it is driving to."""
    under_way = frame.under_way[crew]
    return frame.begun[crew] if under_way is None else (*frame.begun[crew], under_way)


def opening(frame: Frame) -> Draft:
    """The day with only what is fixed: begun routes, and the visits that crews are driving to where that holds."""
    routes: list[Timed] = []
    for crew in range(len(frame.crews)):
        fixed = schedule(frame, crew, locked(frame, crew))
        if isinstance(fixed, Misfit):
            fixed = schedule(frame, crew, frame.begun[crew])
        routes.append(fixed if isinstance(fixed, Timed) else EMPTY)
    served = {v for route in routes for v in route.visits}
    return Draft(routes, set(range(len(frame.visits))) - served)


def greedy(frame: Frame) -> Draft:
    """Every visit at its cheapest place, the hardest first; an optional one only where that pays."""
    draft = opening(frame)
    return filled(frame, draft, sorted(draft.left_out, key=lambda v: _hardness(frame, v)))


def filled(frame: Frame, draft: Draft, order: Iterable[int]) -> Draft:
    """The draft with ``order`` put in one after another where it pays; what does not stays out."""
    for v in order:
        place = cheapest_place(frame, draft.routes, v, frame.visits[v].skip)
        if place is not None:
            draft.routes[place.crew] = place.route
            draft.left_out.discard(v)
    return draft


def cheapest_place(frame: Frame, routes: Sequence[Timed], v: int, below: int | None = None) -> Insertion | None:
    """The cheapest insertion of a visit among all crews that costs less than ``below``, or null if there is none."""
    spots: list[tuple[int, int, int]] = []
    for crew, who in enumerate(frame.crews):
        if v in frame.under_way_by and frame.under_way_by[v] != crew:
            continue
        if may_serve(who, frame.visits[v]) is None:
            spots += spots_of(frame, crew, routes[crew], v)
    best: Insertion | None = None
    for least, crew, position in sorted(spots):
        if below is not None and least >= below:
            break
        visits = routes[crew].visits
        route = schedule(frame, crew, (*visits[:position], v, *visits[position:]))
        if isinstance(route, Timed):
            added = route.cost - routes[crew].cost
            if below is None or added < below:
                below = added
                best = Insertion(crew, position, added, route)
    return best


def spots_of(frame: Frame, crew: int, route: Timed, v: int) -> list[tuple[int, int, int]]:
    """Every open position of a route as (least added cost, crew, position); the least holds whatever the times."""
    who, visits, prices = frame.crews[crew], route.visits, frame.problem.prices
    first = len(frame.begun[crew])
    if len(visits) > first and frame.under_way[crew] is not None:
        first += 1
    place = frame.visit_place[v]
    base = preference_cost(frame.visits[v], who) + (0 if visits else who.fixed)
    spots: list[tuple[int, int, int]] = []
    for position in range(first, len(visits) + 1):
        before = frame.visit_place[visits[position - 1]] if position else frame.crew_start[crew]
        after = frame.visit_place[visits[position]] if position < len(visits) else frame.crew_end[crew]
        longer_s, longer_m = frame.seconds[before][place], frame.meters[before][place]
        shorter_s = shorter_m = 0
        if after is not None:
            longer_s += frame.seconds[place][after]
            longer_m += frame.meters[place][after]
            if visits:
                shorter_s, shorter_m = frame.seconds[before][after], frame.meters[before][after]
        least = base + prices.per_driving_second * (longer_s - shorter_s) + prices.per_meter * (longer_m - shorter_m)
        if longer_s + frame.visits[v].service_s < shorter_s:
            # A drive that the new stop cuts short can also save lateness, overtime and moved promises.
            least -= route.cost
        spots.append((least, crew, position))
    return spots


def _hardness(frame: Frame, v: int) -> tuple[int, int, int, int]:
    """Must-serve before optional, few able crews before many, tight windows before wide, then by their end."""
    visit = frame.visits[v]
    able = sum(may_serve(crew, visit) is None for crew in frame.crews)
    early_s, late_s = visit.window_s or (0, 10**9)
    return (0 if visit.skip is None else 1, min(able, 4), late_s - early_s, v)
