"""
The judge on one route: who may do it, what the vehicle holds, what is begun, what the route states of itself.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from dispatch.planner.check_times import ahead_stops, break_faults, end_faults, time_faults
from dispatch.planner.plan import Route
from dispatch.planner.problem import Crew, Problem, Travel, Visit
from dispatch.planner.violation import Violation


@dataclass(frozen=True)
class Day:
    """The problem by name, as the judge looks things up."""

    problem: Problem
    travel: Travel
    places: dict[str, int]
    crews: dict[str, Crew]
    visits: dict[str, Visit]

    def leg(self, origin: str, to: str) -> tuple[int, int]:
        """Seconds and metres from one place to another."""
        a, b = self.places[origin], self.places[to]
        return self.travel.seconds[a][b], self.travel.meters[a][b]


def route_faults(day: Day, route: Route) -> Iterator[Violation]:
    """Every rule that one route breaks. A route of begun visits alone is a fact: nothing planned can mend it."""
    crew = day.crews[route.crew]
    if not route.stops:
        if crew.begun:
            yield Violation("begun", crew.id, crew.begun[0].visit, f'the route of "{crew.id}" lacks its begun visits')
        if route.break_span is not None and route.break_span != crew.break_taken:
            yield Violation("break_unasked", crew.id, None, f'crew "{crew.id}" has no stops and so is owed no break')
        yield from _stated_faults(route, 0, 0, 0)
        return
    yield from _begun_faults(crew, route)
    yield from _able_faults(day, crew, route)
    ahead = ahead_stops(crew, route)
    if ahead:
        yield from _load_faults(day, crew, route)
    driving_s, driving_m = driving(day, crew, route)
    if ahead and crew.driving_limit_s is not None and driving_s > crew.driving_limit_s:
        message = f"{driving_s} s of driving, {driving_s - crew.driving_limit_s} s over the limit of the day"
        yield Violation("driving_limit", crew.id, None, message)
    yield from time_faults(day, crew, route)
    yield from break_faults(crew, route, day.problem.now_s)
    yield from end_faults(day, crew, route)
    yield from _stated_faults(route, driving_s, driving_m, max(0, route.end_s - crew.until_s))


def _begun_faults(crew: Crew, route: Route) -> Iterator[Violation]:
    for i, begun in enumerate(crew.begun):
        stop = route.stops[i] if i < len(route.stops) else None
        if stop is None or stop.visit != begun.visit:
            message = f'"{begun.visit}" is begun and must be stop {i + 1} of crew "{crew.id}"'
            yield Violation("begun", crew.id, begun.visit, message)
            return
        if (stop.arrive_s, stop.start_s, stop.leave_s) != (begun.start_s, begun.start_s, begun.leave_s):
            message = (
                f'"{begun.visit}" really ran from {begun.start_s} to {begun.leave_s}, the plan says '
                f"arrive {stop.arrive_s}, {stop.start_s} to {stop.leave_s}"
            )
            yield Violation("begun", crew.id, begun.visit, message)
    ahead = ahead_stops(crew, route)
    if crew.under_way is not None and ahead and ahead[0].visit != crew.under_way.to:
        message = f'crew "{crew.id}" is driving to "{crew.under_way.to}", which must come next'
        yield Violation("begun", crew.id, crew.under_way.to, message)


def _able_faults(day: Day, crew: Crew, route: Route) -> Iterator[Violation]:
    for stop in ahead_stops(crew, route):
        visit = day.visits[stop.visit]
        missing = sorted(set(visit.skills) - set(crew.skills))
        if missing:
            message = f'crew "{crew.id}" lacks {", ".join(missing)} for "{visit.id}"'
            yield Violation("skills", crew.id, visit.id, message)
        if visit.state is not None and visit.state not in crew.states:
            message = f'crew "{crew.id}" may not work in {visit.state}, where "{visit.id}" is'
            yield Violation("state", crew.id, visit.id, message)
        if visit.only is not None and crew.id not in visit.only:
            message = f'"{visit.id}" is only for {", ".join(visit.only) or "nobody"}, not for crew "{crew.id}"'
            yield Violation("only", crew.id, visit.id, message)


def _load_faults(day: Day, crew: Crew, route: Route) -> Iterator[Violation]:
    """Each key once, at its first excess: all deliveries aboard from the start, all collections to the end."""
    visits = [day.visits[stop.visit] for stop in route.stops]
    for key in sorted({k for v in visits for k in (*v.deliver, *v.collect)}):
        room = crew.capacity.get(key, 0)
        aboard = sum(v.deliver.get(key, 0) for v in visits)
        at = None if aboard > room else visits[0].id
        over = aboard - room
        for visit in visits:
            if over > 0:
                break
            aboard = aboard - visit.deliver.get(key, 0) + visit.collect.get(key, 0)
            at, over = visit.id, aboard - room
        if over > 0:
            place = "when it starts" if at is None else f'after "{at}"'
            message = (
                f'{over} of {key} too many on the vehicle of crew "{crew.id}" {place}: {room + over} for room {room}'
            )
            yield Violation("capacity", crew.id, at, message)


def driving(day: Day, crew: Crew, route: Route) -> tuple[int, int]:
    """Seconds and metres of a route's whole driving, from the start place to the end place."""
    places = [crew.start, *(day.visits[s.visit].place for s in route.stops)]
    if crew.end is not None:
        places.append(crew.end)
    legs = [day.leg(a, b) for a, b in pairwise(places)]
    return sum(s for s, _ in legs), sum(m for _, m in legs)


def _stated_faults(route: Route, driving_s: int, driving_m: int, overtime_s: int) -> Iterator[Violation]:
    for key, stated, real in (
        ("driving_s", route.driving_s, driving_s),
        ("driving_m", route.driving_m, driving_m),
        ("overtime_s", route.overtime_s, overtime_s),
    ):
        if stated != real:
            message = f"the plan states {key} {stated}, it is {real}, {abs(stated - real)} away"
            yield Violation(f"stated_{key}", route.crew, None, message)
