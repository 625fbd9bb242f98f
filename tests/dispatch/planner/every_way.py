"""Every start, every break and every end of one route, tried one after another and judged: slow, and plainly right."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product

from dispatch.planner.check import check
from dispatch.planner.cost import plan_cost
from dispatch.planner.frame import frame_of
from dispatch.planner.plan import Plan, Route, Skipped, Stop
from dispatch.planner.problem import Crew, Problem

LAST_TICK = 12


def cheapest_route(problem: Problem, order: Sequence[str]) -> int | None:
    """The least cost of the only crew's route in this order, by the judge's word; null when no times hold."""
    costs = [cost for route in _routes(problem, problem.crews[0], order) if (cost := _cost(problem, route)) is not None]
    return min(costs, default=None)


def _routes(problem: Problem, crew: Crew, order: Sequence[str]) -> Iterator[Route]:
    visits = {v.id: v for v in problem.visits}
    begun = [Stop(visit=b.visit, arrive_s=b.start_s, start_s=b.start_s, leave_s=b.leave_s) for b in crew.begun]
    ahead = order[len(begun) :]
    spans: list[tuple[int, int] | None] = [crew.break_taken]
    if crew.break_rule is not None and crew.break_taken is None:
        rule = crew.break_rule
        spans += [(s, s + rule.seconds) for s in range(rule.from_s, rule.until_s + 1)]
    for starts in product(range(LAST_TICK), repeat=len(ahead)):
        if list(starts) != sorted(starts):
            continue
        # A crew may well arrive at the very moment it starts: arriving earlier is never asked for.
        stops = [
            Stop(visit=v, arrive_s=s, start_s=s, leave_s=s + visits[v].service_s)
            for v, s in zip(ahead, starts, strict=True)
        ]
        for span in spans:
            for end_s in range(LAST_TICK + 1):
                yield Route(crew=crew.id, stops=(*begun, *stops), break_span=span, end_s=end_s)


def _cost(problem: Problem, route: Route) -> int | None:
    frame = frame_of(problem)
    crew = problem.crews[0]
    driving_s, driving_m = frame.driving(crew, [frame.visit_at[s.visit] for s in route.stops])
    update = {"driving_s": driving_s, "driving_m": driving_m, "overtime_s": max(0, route.end_s - crew.until_s)}
    whole = route.model_copy(update=update)
    held = {s.visit for s in route.stops}
    left_out = [v for v in problem.visits if v.id not in held]
    cost = plan_cost(frame, [whole], left_out)
    skipped = tuple(Skipped(visit=v.id, code="price", message="left out for the test") for v in left_out)
    plan = Plan(routes=(whole,), skipped=skipped, cost=cost)
    faults = [fault for fault in check(problem, plan) if fault.code != "must_serve"]
    return None if faults else cost.total - cost.skipped
