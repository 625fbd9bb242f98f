"""
A first plan by greedy insertion. It never fails: what fits nowhere is left out, with the rule that kept it out.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from dispatch.planner.fitting import Misfit, may_serve
from dispatch.planner.frame import Frame
from dispatch.planner.insertion import cheapest_spot
from dispatch.planner.outlook import outlook_of
from dispatch.planner.schedule import EMPTY, Timed, schedule


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
    outlooks = [outlook_of(frame, crew, route) for crew, route in enumerate(draft.routes)]
    for v in order:
        spot = cheapest_spot(outlooks, v, frame.visits[v].skip)
        if spot is not None:
            draft.routes[spot.crew] = spot.route
            outlooks[spot.crew] = outlook_of(frame, spot.crew, spot.route)
            draft.left_out.discard(v)
    return draft


def _hardness(frame: Frame, v: int) -> tuple[int, int, int, int]:
    """Must-serve before optional, few able crews before many, tight windows before wide, then by their end."""
    visit = frame.visits[v]
    able = sum(may_serve(crew, visit) is None for crew in frame.crews)
    early_s, late_s = visit.window_s or (0, 10**9)
    return (0 if visit.skip is None else 1, min(able, 4), late_s - early_s, v)
