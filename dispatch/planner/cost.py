"""
What a plan costs, term by term: the one definition, in exact whole numbers, used by everyone but the checker.

The checker works the same sums out for itself; that they agree is a test, not a shared function.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from dispatch.planner.frame import Frame
from dispatch.planner.plan import Cost, Route
from dispatch.planner.problem import Crew, Visit


@dataclass(frozen=True)
class RouteCost:
    """The terms one route adds to a plan's cost."""

    driving: int = 0
    crews: int = 0
    lateness: int = 0
    overtime: int = 0
    moved: int = 0
    preference: int = 0

    @property
    def total(self) -> int:
        return self.driving + self.crews + self.lateness + self.overtime + self.moved + self.preference


def late_cost(visit: Visit, start_s: int) -> int:
    """``per_late_second`` for each second that service starts after ``due``."""
    return 0 if visit.due_s is None else visit.per_late_second * max(0, start_s - visit.due_s)


def moved_cost(visit: Visit, start_s: int) -> int:
    """``per_moved_second`` for each second between the promised start and this one, either way."""
    return 0 if visit.promised_s is None else visit.per_moved_second * abs(start_s - visit.promised_s)


def preference_cost(visit: Visit, crew: Crew) -> int:
    """The visit's price for this crew; ``*`` stands for any crew not named, and neither for 0."""
    return visit.prefer.get(crew.id, visit.prefer.get("*", 0))


def overtime_s(crew: Crew, end_s: int) -> int:
    """Seconds after the shift's own end, waiting included."""
    return max(0, end_s - crew.until_s)


def route_cost(frame: Frame, route: Route) -> RouteCost:
    """The cost of one route from its starts and its end; a route without stops costs nothing."""
    if not route.stops:
        return RouteCost()
    prices = frame.problem.prices
    crew = frame.crews[frame.crew_at[route.crew]]
    driving_s, driving_m = frame.driving(crew, [frame.visit_at[s.visit] for s in route.stops])
    served = [(frame.visits[frame.visit_at[s.visit]], s.start_s) for s in route.stops]
    return RouteCost(
        driving=prices.per_meter * driving_m + prices.per_driving_second * driving_s,
        crews=crew.fixed,
        lateness=sum(late_cost(visit, start_s) for visit, start_s in served),
        overtime=prices.per_overtime_second * overtime_s(crew, route.end_s),
        moved=sum(moved_cost(visit, start_s) for visit, start_s in served),
        preference=sum(preference_cost(visit, crew) for visit, _ in served),
    )


def skip_cost(visits: Iterable[Visit]) -> int:
    """The price of leaving these out. A must-serve visit has none: leaving it out is no matter of price."""
    return sum(visit.skip or 0 for visit in visits)


def plan_cost(frame: Frame, routes: Iterable[Route], left_out: Iterable[Visit]) -> Cost:
    """The cost of a whole plan: its routes and the visits that none of them holds."""
    parts = [route_cost(frame, route) for route in routes]
    skipped = skip_cost(left_out)
    return Cost(
        total=sum(p.total for p in parts) + skipped,
        driving=sum(p.driving for p in parts),
        crews=sum(p.crews for p in parts),
        lateness=sum(p.lateness for p in parts),
        overtime=sum(p.overtime for p in parts),
        moved=sum(p.moved for p in parts),
        preference=sum(p.preference for p in parts),
        skipped=skipped,
    )
