"""The planner's problem of a rehearsed day as its desk sees it: crews from where they will be free, visits, stores."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from dispatch.planner.frame import Frame, frame_of
from dispatch.planner.problem import Break, Place, Prices, Stock, Visit, build
from dispatch.planner.problem import Crew as PlannerCrew
from dispatch.rehearsal.sim.desk import Crew
from dispatch.rehearsal.sim.facts import DAY_S, FIRST, Shift, Task
from dispatch.rehearsal.sim.stock import part
from dispatch.rehearsal.sim.world import World

CREWS_AHEAD_S = 10 * 3600
"""Crews that begin within these hours are asked as well, as the program does."""


@dataclass(frozen=True)
class Ahead:
    """A crew that can be given visits, from where and when it will be free."""

    id: str
    shift: Shift
    place: Place
    from_s: int
    began_s: int
    until_s: int
    at_latest_s: int
    had_break: bool


def ahead(world: World, over: set[str]) -> list[Ahead]:
    """Crews at work, then those that begin soon and are rested by then."""
    found = [_at_work(world, crew) for crew in world.out.values() if max(crew.free_s, world.now_s) <= crew.at_latest_s]
    today = world.now_s // DAY_S
    for day in range(max(0, today - 1), min(world.days, today + 2)):
        for shift in world.shifts_on(day):
            name = f"{shift.crew} {day}"
            begin_s = day * DAY_S + shift.from_s
            if name in world.out or name in over or begin_s > world.now_s + CREWS_AHEAD_S:
                continue
            begin_s = max(begin_s, world.now_s, *(world.rested_s.get(who, 0) for who in shift.people))
            if begin_s < day * DAY_S + shift.until_s:
                found.append(
                    Ahead(
                        id=name,
                        shift=shift,
                        place=world.depots[shift.home].place,
                        from_s=begin_s,
                        began_s=begin_s,
                        until_s=day * DAY_S + shift.until_s,
                        at_latest_s=day * DAY_S + shift.at_latest_s,
                        had_break=False,
                    )
                )
    return found


def _at_work(world: World, crew: Crew) -> Ahead:
    return Ahead(
        id=crew.id,
        shift=crew.shift,
        place=crew.place if crew.task is None else crew.task.job.place,
        from_s=max(world.now_s, crew.free_s),
        began_s=crew.began_s,
        until_s=crew.until_s,
        at_latest_s=crew.at_latest_s,
        had_break=crew.had_break,
    )


def frame_of_day(world: World, crews: Sequence[Ahead], tasks: Sequence[Task], starts_s: Mapping[str, int]) -> Frame:
    """The problem, read and with its travel times. ``starts_s``: what was promised of visits that have a route."""
    depots = [depot.place for depot in world.company.depots]
    places = {place.id: place for place in (*depots, *(crew.place for crew in crews), *(t.job.place for t in tasks))}
    listed = tuple(places.values())
    return frame_of(
        build(
            [_crew(world, crew) for crew in crews],
            [_visit(world, task, starts_s.get(task.id)) for task in tasks],
            listed,
            now_s=world.now_s,
            stock=tuple(
                Stock(place=depot.place.id, have=dict(world.machines.stock.ready[depot.place.id]), load_s=depot.load_s)
                for depot in world.company.depots
            ),
            travel=world.road.table(listed),
            prices=Prices(**world.figures.prices),
        )
    )


def _crew(world: World, crew: Ahead) -> PlannerCrew:
    figures, shift = world.figures, crew.shift
    rule = None
    until_s = crew.began_s + figures.break_until_s
    if figures.break_s and not crew.had_break and until_s > crew.from_s:
        rule = Break(seconds=figures.break_s, from_s=crew.began_s + figures.break_from_s, until_s=until_s)
    ready = world.machines.of(shift).ready
    room = world.machines.of(shift).room(shift.capacity)
    return PlannerCrew(
        id=crew.id,
        start=crew.place.id,
        end=world.depots[shift.home].place.id,
        from_s=crew.from_s,
        until_s=max(crew.from_s, crew.until_s),
        at_latest_s=max(crew.from_s, crew.at_latest_s),
        skills=tuple(sorted(shift.skills)),
        states=tuple(sorted(shift.states)),
        # What was taken up earlier in the day is still aboard.
        capacity={kind: room[kind] + ready[kind] for kind in shift.capacity},
        fixed=figures.crew_out,
        break_rule=rule,
        aboard={kind: count for kind, count in ready.items() if count > 0},
    )


def _visit(world: World, task: Task, start_s: int | None) -> Visit:
    figures, biggest = world.figures, world.largest
    return Visit(
        id=task.id,
        place=task.job.place.id,
        service_s=task.expected_s,
        window_s=(task.open_s, task.open_s + 30 * DAY_S) if task.open_s > world.now_s else None,
        # As in the program, a daily visit has its day and no hour: it is left out or made, never late by seconds.
        due_s=task.due_s if task.kind == FIRST else None,
        per_late_second=figures.per_late_second if task.kind == FIRST else 0,
        skills=task.job.skills,
        state=task.job.state or None,
        deliver=part(task.deliver, biggest),
        collect=part(task.collect, biggest),
        skip=None if task.urgent else figures.left_out,
        promised_s=start_s,
        per_moved_second=0 if start_s is None else figures.per_moved_second,
    )
