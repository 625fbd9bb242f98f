"""
The judge on visits that must be served: one may be left out only if no route of the plan can take it in.

Each crew and position is tried with a clock of its own, the break in each gap, and judged by the same rules as any
route of a plan.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from dispatch.planner.check_route import Day, driving, route_faults
from dispatch.planner.plan import Plan, Route, Stop
from dispatch.planner.problem import Break, Crew
from dispatch.planner.violation import Violation


def must_serve_faults(day: Day, plan: Plan) -> Iterator[Violation]:
    """Must-serve visits that are left out although a crew could take them beside all it has."""
    routed = {stop.visit for route in plan.routes for stop in route.stops}
    under_way = {c.under_way.to: c.id for c in day.problem.crews if c.under_way is not None}
    orders = {crew.id: [b.visit for b in crew.begun] for crew in day.problem.crews}
    orders |= {route.crew: [stop.visit for stop in route.stops] for route in plan.routes}
    for visit in day.problem.visits:
        if visit.skip is None and visit.id not in routed:
            for crew in day.problem.crews:
                if under_way.get(visit.id, crew.id) != crew.id:
                    continue
                position = _room_for(day, crew, orders[crew.id], visit.id)
                if position is not None:
                    message = f'"{visit.id}" must be served, and crew "{crew.id}" could take it as stop {position + 1}'
                    yield Violation("must_serve", crew.id, visit.id, message)
                    break


def _room_for(day: Day, crew: Crew, order: Sequence[str], visit: str) -> int | None:
    wanted = day.visits[visit]
    if set(wanted.skills) - set(crew.skills) or (wanted.state is not None and wanted.state not in crew.states):
        return None
    if wanted.only is not None and crew.id not in wanted.only:
        return None
    for position in range(len(crew.begun), len(order) + 1):
        longer = [*order[:position], visit, *order[position:]]
        for gap in (None, *range(len(crew.begun), len(longer) + 1)):
            route = _soonest(day, crew, longer, gap)
            faults = {"break_window"} if route is None else {fault.code for fault in route_faults(day, route)}
            if not faults:
                return position
            # A break makes nothing sooner: what else is wrong without one stays wrong with it.
            if gap is None and faults != {"break_missing"}:
                break
    return None


def _soonest(day: Day, crew: Crew, order: Sequence[str], gap: int | None) -> Route | None:
    """The earliest times of an order, the break before stop ``gap`` (or before the end); null if it starts too late."""
    now_s, rule, taken = day.problem.now_s, crew.break_rule, crew.break_taken
    stops = [Stop(visit=b.visit, arrive_s=b.start_s, start_s=b.start_s, leave_s=b.leave_s) for b in crew.begun]
    place = day.visits[stops[-1].visit].place if stops else crew.start
    left_s = max(stops[-1].leave_s if stops else crew.from_s, now_s, taken[1] if taken else now_s)
    ready_s = left_s
    if crew.under_way is not None:
        left_s = crew.under_way.left_s
        ready_s = max(now_s, taken[1] if taken else now_s)
        left_s += max(0, taken[1] - max(taken[0], left_s)) if taken else 0
    span = taken
    for i in range(len(stops), len(order) + 1):
        to = day.visits[order[i]].place if i < len(order) else crew.end
        arrive_s = left_s + (0 if to is None else day.leg(place, to)[0])
        if i == gap and rule is not None:
            span, arrive_s, ready_s = _rested(rule, ready_s, left_s, arrive_s)
            if span[0] > rule.until_s:
                return None
        if i == len(order):
            left_s = max(arrive_s, ready_s if span is not taken and i == gap else arrive_s)
            break
        visit = day.visits[order[i]]
        start_s = max(arrive_s, ready_s, visit.window_s[0] if visit.window_s else arrive_s)
        left_s = ready_s = start_s + visit.service_s
        stops.append(Stop(visit=visit.id, arrive_s=arrive_s, start_s=start_s, leave_s=left_s))
        place = visit.place
    route = Route(crew=crew.id, stops=tuple(stops), break_span=span, end_s=left_s)
    driving_s, driving_m = driving(day, crew, route)
    over_s = max(0, left_s - crew.until_s)
    return route.model_copy(update={"driving_s": driving_s, "driving_m": driving_m, "overtime_s": over_s})


def _rested(rule: Break, ready_s: int, left_s: int, arrive_s: int) -> tuple[tuple[int, int], int, int]:
    """The break as early as it can be, the arrival behind it where it falls into the drive, and when it is over."""
    begin_s = max(ready_s, rule.from_s)
    end_s = begin_s + rule.seconds
    return (begin_s, end_s), arrive_s + (rule.seconds if begin_s < arrive_s else 0), end_s
