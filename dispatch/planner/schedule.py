"""
The exact times of one crew's route: arrivals, waiting, the break, the end, at the least cost its order allows.

A route's order is given; here every choice that remains is settled: the gap that takes the break, and the starts.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from dispatch.planner.cost import late_cost, moved_cost, overtime_s, preference_cost
from dispatch.planner.fitting import Misfit, unfit
from dispatch.planner.frame import Departure, Frame
from dispatch.planner.plan import Route, Stop
from dispatch.planner.problem import Break
from dispatch.planner.timing import NEVER_S, Leg, cheapest, earliest


@dataclass(frozen=True)
class Detour:
    """A way round on the drive to ``visit``, to load what it needs; ``place`` and ``visit`` are indices."""

    visit: int
    place: int
    load_s: int

    def takes_s(self, frame: Frame, origin: int, to: int) -> int:
        """From leaving ``origin`` to arriving at ``to``, loading included."""
        return frame.seconds[origin][self.place] + self.load_s + frame.seconds[self.place][to]

    def adds(self, frame: Frame, origin: int, to: int) -> tuple[int, int]:
        """Seconds and metres of driving more than by the straight drive."""
        return (
            frame.seconds[origin][self.place] + frame.seconds[self.place][to] - frame.seconds[origin][to],
            frame.meters[origin][self.place] + frame.meters[self.place][to] - frame.meters[origin][to],
        )


@dataclass(frozen=True)
class Timed:
    """A route with its times; ``cost`` is the whole cost of the route as ``cost.route_cost`` gives it."""

    visits: tuple[int, ...]
    starts_s: tuple[int, ...]
    break_span: tuple[int, int] | None
    end_s: int
    driving_s: int
    driving_m: int
    cost: int


EMPTY = Timed((), (), None, 0, 0, 0, 0)


def departure(frame: Frame, crew: int) -> Departure:
    """Where the crew is when planning begins, and from when it can do anything new."""
    return frame.departures[crew]


def schedule(frame: Frame, crew: int, visits: Sequence[int], detour: Detour | None = None) -> Timed | Misfit:
    """
    The cheapest times for ``visits`` (begun ones first) in this order, or the rule that forbids the order.

    :returns: the route with its whole cost; among equals the one that ends first, then with the earliest starts.
    """
    if not visits:
        return EMPTY
    barred = unfit(frame, crew, visits)
    if barred is not None:
        return barred
    route = timed(frame, crew, visits, detour)
    return route if isinstance(route, Misfit) else within_limit(frame, crew, route, detour)


def within_limit(frame: Frame, crew: int, route: Timed, detour: Detour | None = None) -> Timed | Misfit:
    """
    The route, unless it drives more than the crew may: as driven, and as the plan will state it, without the detour.
    """
    limit_s = frame.crews[crew].driving_limit_s
    if limit_s is None or len(route.visits) == len(frame.begun[crew]):
        return route
    driven_s = route.driving_s
    if detour is not None:
        driven_s = max(driven_s, frame.driving(frame.crews[crew], route.visits)[0])
    return route if driven_s <= limit_s else Misfit("driving_limit", None, driven_s - limit_s)


def timed(frame: Frame, crew: int, visits: Sequence[int], detour: Detour | None = None) -> Timed | Misfit:
    """As ``schedule``, for a route already known to fit in everything but time."""
    return timed_by(frame, crew, visits, legs_of(frame, crew, visits, detour), detour)


def timed_by(
    frame: Frame, crew: int, visits: Sequence[int], legs: list[Leg], detour: Detour | None = None
) -> Timed | Misfit:
    """As ``timed``, with the legs of the route made beforehand."""
    who = frame.crews[crew]
    ahead = visits[len(frame.begun[crew]) :]
    plain = earliest(legs)
    if isinstance(plain, int):
        if ahead:
            return _too_late(ahead, legs, plain)
        # What is begun is a fact, even where it breaks a rule.
        return _settled(frame, crew, visits, [legs[-1].after_s], None, detour)
    rule = who.break_rule if who.break_taken is None else None
    free = cheapest(legs)
    assert not isinstance(free, int), "the earliest starts hold, so some starts do"
    if rule is None or free[-1] <= rule.until_s:
        return _settled(frame, crew, visits, free, None, detour)
    best: tuple[tuple[int, int, int], list[int], int | None] | None = None
    for gap, option in _options(frame, crew, ahead, legs, plain, rule):
        starts = cheapest(option)
        if isinstance(starts, int):
            continue
        worth = (_time_cost(option, starts), starts[-1], sum(starts))
        if best is None or worth < best[0]:
            best = (worth, starts, gap)
    if best is None:
        # Without a break all would hold, so it is the break that does not fit.
        return Misfit("break_missing") if ahead else _settled(frame, crew, visits, free, None, detour)
    return _settled(frame, crew, visits, best[1], best[2], detour)


def drive_s(frame: Frame, origin: int, visit: int, detour: Detour | None = None) -> int:
    """Seconds from a place to a visit's door, by the detour where it is for this visit."""
    to = frame.visit_place[visit]
    if detour is not None and detour.visit == visit:
        return detour.takes_s(frame, origin, to)
    return frame.seconds[origin][to]


def legs_of(frame: Frame, crew: int, visits: Sequence[int], detour: Detour | None = None) -> list[Leg]:
    """One leg for each open stop and one for the way home, without any break."""
    who, from_here = frame.crews[crew], departure(frame, crew)
    at, gone_s = from_here.place, from_here.reach_s
    ahead = visits[len(frame.begun[crew]) :]
    legs: list[Leg] = []
    for v in ahead:
        legs.append(leg_to(frame, v, gone_s + drive_s(frame, at, v, detour), from_here.ready_s))
        at, gone_s = frame.visit_place[v], frame.visits[v].service_s
    end = frame.crew_end[crew]
    if not ahead and who.begun:
        # Nothing new: a crew without an end place was done when it left its last begun visit.
        gone_s = from_here.ready_s if end is not None else who.begun[-1].leave_s
    home_s = 0 if end is None else frame.seconds[at][end]
    legs.append(Leg(gone_s + home_s, -NEVER_S, who.at_latest_s, who.until_s, frame.problem.prices.per_overtime_second))
    return legs


def leg_to(frame: Frame, v: int, after_s: int, ready_s: int) -> Leg:
    """The leg of one open stop, ``after_s`` behind the start of the one before."""
    visit = frame.visits[v]
    early_s, late_s = visit.window_s or (-NEVER_S, NEVER_S)
    return Leg(
        after_s=after_s,
        early_s=max(early_s, ready_s),
        late_s=late_s,
        due_s=visit.due_s or 0,
        per_late_second=0 if visit.due_s is None else visit.per_late_second,
        promised_s=visit.promised_s or 0,
        per_moved_second=0 if visit.promised_s is None else visit.per_moved_second,
    )


def _options(
    frame: Frame, crew: int, ahead: Sequence[int], legs: list[Leg], plain: list[int], rule: Break
) -> Iterator[tuple[int | None, list[Leg]]]:
    """The route without a break (allowed while it ends by the break's ``until``), then with it in each gap."""
    home = legs[-1]
    yield None, [*legs[:-1], home.within(home.after_s, home.early_s, min(home.late_s, rule.until_s))]
    begin_s = max(rule.from_s, departure(frame, crew).ready_s)
    if begin_s > rule.until_s:
        return
    with_home = frame.crew_end[crew] is not None
    for gap in range(len(legs) if with_home else len(legs) - 1):
        option = legs[:]
        leg = legs[gap]
        option[gap] = leg.within(leg.after_s + rule.seconds, max(leg.early_s, begin_s + rule.seconds), leg.late_s)
        if gap:
            leave_by_s = rule.until_s - frame.visits[ahead[gap - 1]].service_s
            if plain[gap - 1] > leave_by_s:
                return
            before = legs[gap - 1]
            option[gap - 1] = before.within(before.after_s, before.early_s, min(before.late_s, leave_by_s))
        yield gap, option


def _time_cost(legs: Sequence[Leg], starts: Sequence[int]) -> int:
    return sum(
        leg.per_late_second * max(0, at_s - leg.due_s) + leg.per_moved_second * abs(at_s - leg.promised_s)
        for leg, at_s in zip(legs, starts, strict=True)
    )


def _too_late(ahead: Sequence[int], legs: list[Leg], first_late: int) -> Misfit:
    """The rule that even the earliest starts break: a window, or the latest end."""
    at_s = 0
    for leg in legs[: first_late + 1]:
        at_s = max(at_s + leg.after_s, leg.early_s)
    by = at_s - legs[first_late].late_s
    if first_late == len(legs) - 1:
        return Misfit("at_latest", None, by)
    return Misfit("window", ahead[first_late], by)


def _settled(
    frame: Frame, crew: int, visits: Sequence[int], times: list[int], gap: int | None, detour: Detour | None
) -> Timed:
    who = frame.crews[crew]
    begun = len(who.begun)
    starts = [*(b.start_s for b in who.begun), *times[:-1]]
    driving_s, driving_m = frame.driving(who, visits)
    if detour is not None:
        position = visits.index(detour.visit)
        origin = frame.visit_place[visits[position - 1]] if position else frame.crew_start[crew]
        more_s, more_m = detour.adds(frame, origin, frame.visit_place[detour.visit])
        driving_s, driving_m = driving_s + more_s, driving_m + more_m
    prices = frame.problem.prices
    cost = who.fixed + prices.per_meter * driving_m + prices.per_driving_second * driving_s
    cost += prices.per_overtime_second * overtime_s(who, times[-1])
    for v, start_s in zip(visits, starts, strict=True):
        visit = frame.visits[v]
        cost += preference_cost(visit, who) + late_cost(visit, start_s) + moved_cost(visit, start_s)
    span = who.break_taken
    if gap is not None and who.break_rule is not None:
        span = _break_span(frame, crew, visits[begun:], times, gap, detour)
    return Timed(tuple(visits), tuple(starts), span, times[-1], driving_s, driving_m, cost)


def _break_span(
    frame: Frame, crew: int, ahead: Sequence[int], times: list[int], gap: int, detour: Detour | None
) -> tuple[int, int]:
    """At the door when waiting there leaves room for it, else as early as the gap allows."""
    rule = frame.crews[crew].break_rule
    assert rule is not None, "a gap was chosen for a break that no rule asks for"
    from_here = departure(frame, crew)
    if gap == 0:
        left_s, at, gone_s = from_here.ready_s, from_here.place, from_here.reach_s
    else:
        left_s = gone_s = times[gap - 1] + frame.visits[ahead[gap - 1]].service_s
        at = frame.visit_place[ahead[gap - 1]]
    if gap < len(ahead):
        at_door_s = max(gone_s + drive_s(frame, at, ahead[gap], detour), left_s, rule.from_s)
        if at_door_s + rule.seconds <= times[gap] and at_door_s <= rule.until_s:
            return at_door_s, at_door_s + rule.seconds
    begin_s = max(left_s, rule.from_s)
    return begin_s, begin_s + rule.seconds


def as_route(frame: Frame, crew: int, route: Timed, detour: Detour | None = None) -> Route:
    """The route as the plan shows it: arrivals follow the drive, interrupted by the break where it falls into it."""
    who = frame.crews[crew]
    from_here = departure(frame, crew)
    begun = len(who.begun)
    stops = [Stop(visit=b.visit, arrive_s=b.start_s, start_s=b.start_s, leave_s=b.leave_s) for b in who.begun]
    at, gone_s = from_here.place, from_here.reach_s
    planned = None if who.break_taken is not None else route.break_span
    for v, start_s in zip(route.visits[begun:], route.starts_s[begun:], strict=True):
        visit = frame.visits[v]
        arrive_s = gone_s + drive_s(frame, at, v, detour)
        if planned is not None and planned[0] < arrive_s and planned[1] > gone_s and planned[1] <= start_s:
            arrive_s += planned[1] - planned[0]
        leave_s = start_s + visit.service_s
        stops.append(Stop(visit=visit.id, arrive_s=arrive_s, start_s=start_s, leave_s=leave_s))
        at, gone_s = frame.visit_place[v], leave_s
    return Route(
        crew=who.id,
        stops=tuple(stops),
        break_span=route.break_span,
        end_s=route.end_s,
        driving_s=route.driving_s,
        driving_m=route.driving_m,
        overtime_s=overtime_s(who, route.end_s) if stops else 0,
    )
