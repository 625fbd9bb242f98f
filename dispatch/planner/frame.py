"""
A problem with its lookups made once: indices for names, who may serve what, what is fixed already.

Everything here follows from the problem alone. Crews, visits and places are meant by their index.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

from dispatch.planner.problem import Crew, Problem, Visit
from dispatch.planner.travel import travel_of


@dataclass(frozen=True)
class Departure:
    """
    Where and when the open part of a crew's day begins.

    ``ready_s``: no new drive, service or break before it. ``reach_s``: time at which a drive of no length would end;
    later than ``ready_s`` never, earlier only for a crew that is under way.
    """

    place: int
    ready_s: int
    reach_s: int


@dataclass(frozen=True)
class Frame:
    """Lookups over one problem; build with ``frame_of``."""

    problem: Problem
    seconds: tuple[tuple[int, ...], ...]
    meters: tuple[tuple[int, ...], ...]
    place_at: dict[str, int]
    crew_at: dict[str, int]
    visit_at: dict[str, int]
    visit_place: tuple[int, ...]
    crew_start: tuple[int, ...]
    crew_end: tuple[int | None, ...]
    begun_by: dict[int, int] = field(default_factory=dict)
    under_way_by: dict[int, int] = field(default_factory=dict)

    @property
    def crews(self) -> tuple[Crew, ...]:
        return self.problem.crews

    @property
    def visits(self) -> tuple[Visit, ...]:
        return self.problem.visits

    @cached_property
    def begun(self) -> tuple[tuple[int, ...], ...]:
        """The begun visits of every crew, in their order."""
        return tuple(tuple(self.visit_at[b.visit] for b in crew.begun) for crew in self.crews)

    @cached_property
    def under_way(self) -> tuple[int | None, ...]:
        """The visit every crew is driving to, if any."""
        return tuple(None if c.under_way is None else self.visit_at[c.under_way.to] for c in self.crews)

    @cached_property
    def departures(self) -> tuple[Departure, ...]:
        """Where every crew is when planning begins, and from when it can do anything new."""
        return tuple(self._departure(crew) for crew in range(len(self.crews)))

    def _departure(self, crew: int) -> Departure:
        who, begun, now_s = self.crews[crew], self.begun[crew], self.problem.now_s
        place = self.visit_place[begun[-1]] if begun else self.crew_start[crew]
        taken = who.break_taken
        rested_s = now_s if taken is None else max(now_s, taken[1])
        if who.under_way is None:
            ready_s = max(who.begun[-1].leave_s if begun else who.from_s, rested_s)
            return Departure(place, ready_s, ready_s)
        left_s = who.under_way.left_s
        stood_s = 0 if taken is None else max(0, taken[1] - max(taken[0], left_s))
        return Departure(place, rested_s, left_s + stood_s)

    def driving(self, crew: Crew, visits: Sequence[int]) -> tuple[int, int]:
        """Seconds and metres of the whole route from the start place over ``visits`` to the end place."""
        if not visits:
            return 0, 0
        c = self.crew_at[crew.id]
        at = self.crew_start[c]
        seconds = meters = 0
        for v in visits:
            to = self.visit_place[v]
            seconds += self.seconds[at][to]
            meters += self.meters[at][to]
            at = to
        end = self.crew_end[c]
        if end is not None:
            seconds += self.seconds[at][end]
            meters += self.meters[at][end]
        return seconds, meters


def frame_of(problem: Problem) -> Frame:
    """The lookups of a problem, with its travel settled."""
    travel = travel_of(problem)
    place_at = {p.id: i for i, p in enumerate(problem.places)}
    visit_at = {v.id: i for i, v in enumerate(problem.visits)}
    return Frame(
        problem=problem,
        seconds=travel.seconds,
        meters=travel.meters,
        place_at=place_at,
        crew_at={c.id: i for i, c in enumerate(problem.crews)},
        visit_at=visit_at,
        visit_place=tuple(place_at[v.place] for v in problem.visits),
        crew_start=tuple(place_at[c.start] for c in problem.crews),
        crew_end=tuple(None if c.end is None else place_at[c.end] for c in problem.crews),
        begun_by={visit_at[b.visit]: i for i, c in enumerate(problem.crews) for b in c.begun},
        under_way_by={visit_at[c.under_way.to]: i for i, c in enumerate(problem.crews) if c.under_way is not None},
    )
