"""
The judge: whether a plan keeps every rule of its problem, worked out anew from the problem alone.

It trusts nothing that the plan says of itself and shares no sums with those who make or price plans, so that an
error made there is found here. Every plan that leaves the planner has passed it.
"""

from __future__ import annotations

from collections.abc import Iterator

from dispatch.planner.check_must import must_serve_faults
from dispatch.planner.check_route import Day, driving, route_faults
from dispatch.planner.plan import Plan, read_plan
from dispatch.planner.problem import Problem
from dispatch.planner.reading import Refused
from dispatch.planner.travel import travel_of
from dispatch.planner.violation import Violation


def check(problem: Problem, plan: Plan | object) -> tuple[Violation, ...]:
    """
    Every rule the plan breaks, in the order of its routes; empty when it holds.

    A plan whose names do not fit the problem is judged no further: its times and costs would mean nothing.
    """
    if not isinstance(plan, Plan):
        try:
            plan = read_plan(plan)
        except Refused as refused:
            return (Violation("form", None, None, f"{refused.where}: {refused.message}"),)
    day = Day(
        problem,
        travel_of(problem),
        {p.id: i for i, p in enumerate(problem.places)},
        {c.id: c for c in problem.crews},
        {v.id: v for v in problem.visits},
    )
    names = tuple(_name_faults(day, plan))
    if any(fault.code in {"crew_unknown", "visit_unknown"} for fault in names):
        return names
    found = list(names)
    for route in plan.routes:
        found += route_faults(day, route)
    found += must_serve_faults(day, plan)
    found += _cost_faults(day, plan)
    if plan.bound is not None and plan.bound.value > plan.cost.total:
        by = plan.bound.value - plan.cost.total
        found.append(Violation("bound", None, None, f"the bound {plan.bound.value} is {by} above the plan's own cost"))
    return tuple(found)


def _name_faults(day: Day, plan: Plan) -> Iterator[Violation]:
    """Crews and visits unknown, twice, forgotten, or taken from the crew that has begun them."""
    routed: dict[str, str] = {}
    seen: set[str] = set()
    for route in plan.routes:
        if route.crew not in day.crews:
            yield Violation("crew_unknown", route.crew, None, f'there is no crew "{route.crew}" that day')
        if route.crew in seen:
            yield Violation("crew_twice", route.crew, None, f'crew "{route.crew}" has more than one route')
        seen.add(route.crew)
        for stop in route.stops:
            if stop.visit not in day.visits:
                yield Violation("visit_unknown", route.crew, stop.visit, f'there is no visit "{stop.visit}" that day')
            elif stop.visit in routed:
                other = routed[stop.visit]
                message = f'"{stop.visit}" is already on the route of crew "{other}"'
                yield Violation("visit_twice", route.crew, stop.visit, message)
            routed.setdefault(stop.visit, route.crew)
    yield from _skip_faults(day, plan, routed)
    for crew in day.problem.crews:
        if crew.begun and crew.id not in seen:
            message = f'crew "{crew.id}" has begun visits but no route'
            yield Violation("begun", crew.id, crew.begun[0].visit, message)
        if crew.under_way is not None and routed.get(crew.under_way.to, crew.id) != crew.id:
            message = f'crew "{crew.id}" is driving to "{crew.under_way.to}", so no other crew can have it'
            yield Violation("begun", crew.id, crew.under_way.to, message)


def _skip_faults(day: Day, plan: Plan, routed: dict[str, str]) -> Iterator[Violation]:
    skipped: set[str] = set()
    for left in plan.skipped:
        if left.visit not in day.visits:
            yield Violation("visit_unknown", None, left.visit, f'there is no visit "{left.visit}" that day')
        elif left.visit in skipped:
            yield Violation("visit_twice", None, left.visit, f'"{left.visit}" stands twice among the visits left out')
        elif left.visit in routed:
            message = f'"{left.visit}" is left out and also on the route of crew "{routed[left.visit]}"'
            yield Violation("visit_twice", routed[left.visit], left.visit, message)
        skipped.add(left.visit)
    for name in day.visits:
        if name not in routed and name not in skipped:
            yield Violation("visit_forgotten", None, name, f'"{name}" is on no route and not among the visits left out')


def _cost_faults(day: Day, plan: Plan) -> Iterator[Violation]:
    terms = _cost_terms(day, plan)
    for term, real in terms.items():
        stated = getattr(plan.cost, term)
        if stated != real:
            message = f"the plan states {term} {stated}, it is {real}, {abs(stated - real)} away"
            yield Violation("stated_cost", None, None, message)


def _cost_terms(day: Day, plan: Plan) -> dict[str, int]:
    prices = day.problem.prices
    terms = dict.fromkeys(("driving", "crews", "lateness", "overtime", "moved", "preference", "skipped"), 0)
    served: set[str] = set()
    for route in plan.routes:
        if not route.stops:
            continue
        crew = day.crews[route.crew]
        driving_s, driving_m = driving(day, crew, route)
        terms["driving"] += driving_s * prices.per_driving_second + driving_m * prices.per_meter
        terms["crews"] += crew.fixed
        if route.end_s > crew.until_s:
            terms["overtime"] += (route.end_s - crew.until_s) * prices.per_overtime_second
        for stop in route.stops:
            visit = day.visits[stop.visit]
            served.add(visit.id)
            if visit.due_s is not None and stop.start_s > visit.due_s:
                terms["lateness"] += (stop.start_s - visit.due_s) * visit.per_late_second
            if visit.promised_s is not None:
                terms["moved"] += abs(stop.start_s - visit.promised_s) * visit.per_moved_second
            named = crew.id if crew.id in visit.prefer else "*"
            terms["preference"] += visit.prefer.get(named, 0)
    for visit in day.problem.visits:
        if visit.id not in served and visit.skip is not None:
            terms["skipped"] += visit.skip
    terms["total"] = sum(terms.values())
    return terms
