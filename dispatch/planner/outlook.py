"""
One crew's day as it stands, with what tells in a few comparisons where one more visit cannot go.

The bounds leave the break out, so they never refuse what a schedule would allow; what they let through is scheduled.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import accumulate

from dispatch.planner.fitting import Misfit, overload
from dispatch.planner.frame import Frame
from dispatch.planner.schedule import Detour, Timed, departure, drive_s, leg_to, legs_of, timed_by, within_limit
from dispatch.planner.timing import Leg


@dataclass(frozen=True)
class Outlook:
    """
    A route with its legs, and for each open position (0 = before the first open stop) the earliest leaving of the
    place before it and the latest start of the stop after it; ``none`` of these where the route itself cannot hold.
    """

    frame: Frame
    crew: int
    route: Timed
    legs: tuple[Leg, ...]
    leaves_s: tuple[int, ...]
    latest_s: tuple[int, ...]

    @property
    def first(self) -> int:
        """The first position, counted from the route's first stop, where a new visit may go."""
        begun = len(self.frame.begun[self.crew])
        fixed = self.frame.under_way[self.crew] is not None and len(self.route.visits) > begun
        return begun + (1 if fixed else 0)

    def place_before(self, position: int) -> int:
        """Where the crew comes from at a position."""
        begun = len(self.frame.begun[self.crew])
        if position == begun:
            return departure(self.frame, self.crew).place
        return self.frame.visit_place[self.route.visits[position - 1]]

    def soonest_s(self, v: int, position: int, detour: Detour | None = None) -> int | None:
        """A start that no schedule with the visit at a position can beat; null if none can hold, by the clock alone."""
        frame, k = self.frame, position - len(self.frame.begun[self.crew])
        visit = frame.visits[v]
        start_s = self.leaves_s[k] + drive_s(frame, self.place_before(position), v, detour)
        start_s = max(start_s, departure(frame, self.crew).ready_s)
        if visit.window_s is not None:
            start_s = max(start_s, visit.window_s[0])
            if start_s > visit.window_s[1]:
                return None
        late = start_s + visit.service_s + self._onward_s(v, position) > self.latest_s[k]
        return None if late else start_s

    def _onward_s(self, v: int, position: int) -> int:
        visits, at = self.route.visits, self.frame.visit_place[v]
        if position < len(visits):
            return self.frame.seconds[at][self.frame.visit_place[visits[position]]]
        end = self.frame.crew_end[self.crew]
        return 0 if end is None else self.frame.seconds[at][end]

    def positions(self, v: int) -> range:
        """Where the visit may go as far as what is fixed allows, counted from the route's first stop."""
        begun = len(self.frame.begun[self.crew])
        if self.frame.under_way[self.crew] not in (None, v) and len(self.route.visits) == begun:
            # It drives to a stop that it can no longer hold: nothing can come before that one, or after it.
            return range(0)
        return range(self.first, len(self.route.visits) + 1)

    def tried(self, v: int, position: int) -> Misfit | None:
        """The rule the route with the visit at a position breaks, or null if it holds."""
        visits = self.route.visits
        order = (*visits[:position], v, *visits[position:])
        if not self.fits(v, position):
            return self.overload(order)
        route = self.with_visit(v, position)
        return route if isinstance(route, Misfit) else None

    @cached_property
    def peaks(self) -> dict[str, tuple[tuple[int, ...], tuple[int, ...]]]:
        """By kind of load and position: the highest load up to there, and from there to the end."""
        visits = [self.frame.visits[u] for u in self.route.visits]
        found: dict[str, tuple[tuple[int, ...], tuple[int, ...]]] = {}
        for key in {key for visit in visits for key in (*visit.deliver, *visit.collect)}:
            loads = [sum(visit.deliver.get(key, 0) for visit in visits)]
            for visit in visits:
                loads.append(loads[-1] + visit.collect.get(key, 0) - visit.deliver.get(key, 0))
            found[key] = tuple(accumulate(loads, max)), tuple(accumulate(reversed(loads), max))[::-1]
        return found

    @cached_property
    def fits_now(self) -> bool:
        """Whether the vehicle holds the route as it is; begun visits alone may exceed it."""
        return self.overload(self.route.visits) is None

    def fits(self, v: int, position: int) -> bool:
        """Whether the vehicle holds the route with the visit at a position."""
        visit, room = self.frame.visits[v], self.frame.crews[self.crew].capacity
        for key in {**visit.deliver, **visit.collect}:
            held = self.peaks.get(key)
            before, after = (0, 0) if held is None else (held[0][position], held[1][position])
            if before + visit.deliver.get(key, 0) > room.get(key, 0):
                return False
            if after + visit.collect.get(key, 0) > room.get(key, 0):
                return False
        return self.fits_now

    def overload(self, order: Sequence[int]) -> Misfit | None:
        """What of this order the vehicle cannot hold, if anything."""
        over = overload(self.frame.crews[self.crew], [self.frame.visits[u] for u in order])
        return None if over is None else Misfit("capacity", order[max(over[0], 0)], over[2], over[1])

    def with_visit(self, v: int, position: int, detour: Detour | None = None) -> Timed | Misfit:
        """
        The route with the visit at a position, exactly as ``schedule`` times it.

        The visit must be one the crew may serve, and the loads must fit.
        """
        frame, k = self.frame, position - len(self.frame.begun[self.crew])
        visits = self.route.visits
        order = (*visits[:position], v, *visits[position:])
        if len(visits) == len(frame.begun[self.crew]):
            legs = legs_of(frame, self.crew, order, detour)
        else:
            gone_s = departure(frame, self.crew).reach_s if k == 0 else frame.visits[visits[position - 1]].service_s
            after_s = gone_s + drive_s(frame, self.place_before(position), v, detour)
            onward_s = frame.visits[v].service_s + self._onward_s(v, position)
            legs = [
                *self.legs[:k],
                leg_to(frame, v, after_s, departure(frame, self.crew).ready_s),
                self.legs[k].within(onward_s, self.legs[k].early_s, self.legs[k].late_s),
                *self.legs[k + 1 :],
            ]
        route = timed_by(frame, self.crew, order, legs, detour)
        return route if isinstance(route, Misfit) else within_limit(frame, self.crew, route, detour)


def outlook_of(frame: Frame, crew: int, route: Timed) -> Outlook:
    """The outlook of one crew, whose route is as ``schedule`` made it."""
    begun = len(frame.begun[crew])
    ahead = route.visits[begun:]
    legs = tuple(legs_of(frame, crew, route.visits))
    leaves_s = [departure(frame, crew).reach_s]
    start_s = 0
    for leg, v in zip(legs, ahead, strict=False):
        start_s = max(start_s + leg.after_s, leg.early_s)
        leaves_s.append(start_s + frame.visits[v].service_s)
    latest_s = [frame.crews[crew].at_latest_s]
    for k in range(len(ahead) - 1, -1, -1):
        latest_s.append(min(legs[k].late_s, latest_s[-1] - legs[k + 1].after_s))
    return Outlook(frame, crew, route, legs, tuple(leaves_s), tuple(reversed(latest_s)))
