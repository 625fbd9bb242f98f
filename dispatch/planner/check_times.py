"""
The judge's clock: drives, starts, services, the break and the end of one route, from the problem alone.

A drive fits between two stops when the time between them, less what the break takes of it, is enough.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Protocol

from dispatch.planner.plan import Route, Stop
from dispatch.planner.problem import Crew, Problem, Visit
from dispatch.planner.violation import Violation


class Ground(Protocol):
    """What the clock needs to know of the day."""

    @property
    def problem(self) -> Problem: ...
    @property
    def visits(self) -> dict[str, Visit]: ...
    def leg(self, origin: str, to: str) -> tuple[int, int]: ...


def ahead_stops(crew: Crew, route: Route) -> tuple[Stop, ...]:
    """The stops that are not begun."""
    begun = {b.visit for b in crew.begun}
    return tuple(stop for stop in route.stops if stop.visit not in begun)


def time_faults(day: Ground, crew: Crew, route: Route) -> Iterator[Violation]:
    """Travel, waiting, windows, ``now`` and service length at each stop that is not begun."""
    now_s = day.problem.now_s
    place = day.visits[crew.begun[-1].visit].place if crew.begun else crew.start
    left_s = crew.begun[-1].leave_s if crew.begun else crew.from_s
    exempt = crew.under_way is not None
    for stop in ahead_stops(crew, route):
        visit = day.visits[stop.visit]
        if exempt and crew.under_way is not None:
            left_s = crew.under_way.left_s
        yield from _drive_faults(
            crew, stop, left_s, day.leg(place, visit.place)[0], None if exempt else now_s, _span(crew, route)
        )
        yield from _stop_faults(crew, visit, stop, now_s)
        place, left_s, exempt = visit.place, stop.leave_s, False


def _span(crew: Crew, route: Route) -> tuple[int, int] | None:
    return crew.break_taken if crew.break_taken is not None else route.break_span


def _free_s(from_s: int, until_s: int, span: tuple[int, int] | None) -> int:
    """Seconds between two times, less those the break takes of them."""
    rested = 0 if span is None else max(0, min(span[1], until_s) - max(span[0], from_s))
    return until_s - from_s - rested


def _drive_faults(
    crew: Crew, stop: Stop, left_s: int, drive_s: int, now_s: int | None, span: tuple[int, int] | None
) -> Iterator[Violation]:
    lacking = drive_s - _free_s(left_s, stop.arrive_s, span)
    if lacking > 0 or stop.arrive_s < left_s:
        message = f'crew "{crew.id}" needs {drive_s} s to "{stop.visit}" and arrives {lacking} s too early'
        yield Violation("travel", crew.id, stop.visit, message)
    elif now_s is not None and left_s < now_s:
        lacking = drive_s - _free_s(now_s, max(stop.arrive_s, now_s), span)
        if lacking > 0:
            message = (
                f'to arrive at "{stop.visit}" at {stop.arrive_s} crew "{crew.id}" had to leave before now, {now_s}'
            )
            yield Violation("now", crew.id, stop.visit, f"{message}; {lacking} s are lacking")


def _stop_faults(crew: Crew, visit: Visit, stop: Stop, now_s: int) -> Iterator[Violation]:
    if stop.start_s < stop.arrive_s:
        message = f'"{visit.id}" starts {stop.arrive_s - stop.start_s} s before crew "{crew.id}" arrives'
        yield Violation("start_before_arrival", crew.id, visit.id, message)
    if visit.window_s is not None and not visit.window_s[0] <= stop.start_s <= visit.window_s[1]:
        early, late = visit.window_s
        by = early - stop.start_s if stop.start_s < early else stop.start_s - late
        side = "before its window opens" if stop.start_s < early else "after its window ends"
        yield Violation("window", crew.id, visit.id, f'"{visit.id}" starts at {stop.start_s}, {by} s {side}')
    if stop.start_s < now_s:
        message = f'"{visit.id}" starts {now_s - stop.start_s} s before now and is not begun'
        yield Violation("now", crew.id, visit.id, message)
    if stop.leave_s != stop.start_s + visit.service_s:
        took = stop.leave_s - stop.start_s
        message = f'"{visit.id}" takes {visit.service_s} s, the plan gives it {took} s'
        yield Violation("service", crew.id, visit.id, message)


def break_faults(crew: Crew, route: Route, now_s: int) -> Iterator[Violation]:
    """Whether the break shown is the one owed: its presence, length, window and place between services."""
    span, rule = route.break_span, crew.break_rule
    if crew.break_taken is not None:
        if span is None:
            message = f'crew "{crew.id}" has had its break from {crew.break_taken[0]} to {crew.break_taken[1]}'
            yield Violation("break_missing", crew.id, None, f"{message}; the plan must show it")
        elif span != crew.break_taken:
            message = f'crew "{crew.id}" had its break from {crew.break_taken[0]} to {crew.break_taken[1]}'
            yield Violation("break_unasked", crew.id, None, f"{message}, the plan shows {span[0]} to {span[1]}")
        yield from _service_faults(crew, route, crew.break_taken)
        return
    owed = rule is not None and route.end_s > rule.until_s
    if span is None:
        if owed and rule is not None and ahead_stops(crew, route):
            by = route.end_s - rule.until_s
            message = f'crew "{crew.id}" ends {by} s after its break must have begun and has none'
            yield Violation("break_missing", crew.id, None, message)
        return
    if rule is None or not owed:
        message = f'crew "{crew.id}" is owed no break' + ("" if rule is None else f": it ends by {rule.until_s}")
        yield Violation("break_unasked", crew.id, None, message)
        return
    if span[1] - span[0] != rule.seconds:
        message = f'the break of crew "{crew.id}" is {span[1] - span[0]} s long, it must be {rule.seconds} s'
        yield Violation("break_length", crew.id, None, message)
    if not rule.from_s <= span[0] <= rule.until_s:
        by = rule.from_s - span[0] if span[0] < rule.from_s else span[0] - rule.until_s
        message = f'the break of crew "{crew.id}" starts at {span[0]}, {by} s outside {rule.from_s} to {rule.until_s}'
        yield Violation("break_window", crew.id, None, message)
    begin_s = max(now_s, crew.begun[-1].leave_s if crew.begun else crew.from_s)
    if span[0] < begin_s:
        message = f'the break of crew "{crew.id}" starts {begin_s - span[0]} s before the crew can begin it'
        yield Violation("break_too_early", crew.id, None, message)
    yield from _service_faults(crew, route, span)


def _service_faults(crew: Crew, route: Route, span: tuple[int, int]) -> Iterator[Violation]:
    for stop in ahead_stops(crew, route):
        inside = min(span[1], stop.leave_s) - max(span[0], stop.start_s)
        # A service of no length still cannot happen in the middle of a break.
        if inside > 0 or (stop.start_s == stop.leave_s and span[0] < stop.start_s < span[1]):
            message = f'the break of crew "{crew.id}" falls into the service at "{stop.visit}" for {inside} s'
            yield Violation("break_in_service", crew.id, stop.visit, message)


def end_faults(day: Ground, crew: Crew, route: Route) -> Iterator[Violation]:
    """The way home and the latest end."""
    last = route.stops[-1]
    ahead = ahead_stops(crew, route)
    span = _span(crew, route)
    drive_s = 0 if crew.end is None else day.leg(day.visits[last.visit].place, crew.end)[0]
    left_s = last.leave_s
    if not ahead and crew.end is not None:
        left_s = max(left_s, day.problem.now_s)
    lacking = drive_s - _free_s(left_s, route.end_s, span)
    if lacking > 0 or route.end_s < left_s:
        message = f'crew "{crew.id}" needs {drive_s} s home from "{last.visit}" and is there {lacking} s too early'
        yield Violation("travel_home", crew.id, last.visit, message)
    if span is not None and crew.break_taken is None and span[1] > route.end_s:
        message = f'the break of crew "{crew.id}" lasts {span[1] - route.end_s} s beyond its end'
        yield Violation("break_window", crew.id, None, message)
    if ahead and route.end_s > crew.at_latest_s:
        message = f'crew "{crew.id}" ends at {route.end_s}, {route.end_s - crew.at_latest_s} s after its latest end'
        yield Violation("at_latest", crew.id, None, message)
