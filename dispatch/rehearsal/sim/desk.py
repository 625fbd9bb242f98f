"""A desk: it hears of every visit that is to be made, and says what each crew does next."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections import Counter
from collections.abc import Generator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import simpy

from dispatch.planner.problem import Place
from dispatch.rehearsal.sim.facts import FIRST, Fetch, Order, Shift, Task, Units
from dispatch.rehearsal.sim.stock import part, rest

if TYPE_CHECKING:
    from dispatch.rehearsal.sim.world import World

Steps = Generator[simpy.Event, Any, None]


@dataclass(eq=False)
class Crew:
    """
    A crew at work: where it is, or will be when it is free at ``free_s`` as far as the desk can expect.

    ``idle`` is set while it waits; triggering it makes the crew ask again.
    """

    id: str
    shift: Shift
    place: Place
    began_s: int
    until_s: int
    at_latest_s: int
    free_s: int = 0
    task: Task | None = None
    had_break: bool = False
    driving_s: int = 0
    idle: simpy.Event | None = None
    idle_since_s: int = 0


class Ear:
    """What a desk hears of the day; it need not listen."""

    def new_day(self, day: int) -> None:
        """A day begins."""

    def came(self, task: Task) -> None:
        """A visit is known, perhaps for later."""

    def started(self, crew: Crew) -> None:
        """A crew is at work."""

    def left(self, crew: Crew, order: Order) -> None:
        """It drives."""

    def arrived(self, crew: Crew, task: Task) -> None:
        """It begins."""

    def finished(self, crew: Crew, task: Task) -> None:
        """It is done there."""

    def ended(self, crew: Crew) -> None:
        """It goes home."""


class Desk(Ear, ABC):
    """What every desk can do; the rules differ in the rest."""

    def __init__(self, world: World) -> None:
        self.world = world

    @abstractmethod
    def opened(self, task: Task) -> None:
        """A visit may be driven to from now on."""

    @abstractmethod
    def next_order(self, crew: Crew) -> Order | None:
        """What a free crew does now, or at the order's time; None when there is nothing for it."""

    def ordered(self, crew: Crew) -> Units:
        """What the crew's visits of the day are to bring, besides its standing stock."""
        return {}

    def may_go(self, shift: Shift, task: Task) -> bool:
        """Whether cards and licenses allow it."""
        return set(task.job.skills) <= shift.skills and (not task.job.state or task.job.state in shift.states)

    def fetch_for(self, crew: Crew, task: Task) -> Fetch | None:
        """Where a crew without the machines for a first visit best loads them, going by the soonest start."""
        world = self.world
        if task.kind != FIRST:
            return None
        load = world.machines.of(crew.shift)
        missing = part(rest(task.deliver, load.ready), load.room(crew.shift.capacity))
        if not missing:
            return None
        best: tuple[int, int, str, dict[str, int]] | None = None
        for name, ready in world.machines.stock.ready.items():
            take = part(missing, ready)
            if take:
                depot = world.depots[name]
                there_s = world.road.drive_s(crew.place, depot.place) + depot.load_s
                there_s += world.road.drive_s(depot.place, task.job.place)
                best = min(best or (1, 0, "", {}), (-sum(take.values()), there_s, name, take))
        return None if best is None else Fetch(best[2], best[3])

    def order_for(self, crew: Crew, task: Task) -> Order | None:
        """The order that sends a crew there now, if it may go and is back in time as far as anybody can expect."""
        if not self.may_go(crew.shift, task):
            return None
        world = self.world
        fetch = self.fetch_for(crew, task)
        drive_s = world.drive_s(crew, Order(task, 0, fetch))
        leave_s = max(world.now_s, task.open_s - drive_s)
        home_s = world.road.drive_s(task.job.place, world.depots[crew.shift.home].place)
        back_s = max(leave_s + drive_s, task.open_s) + task.expected_s + home_s
        limit_s = crew.at_latest_s if task.urgent else crew.until_s
        if back_s > limit_s or world.road.drive_s(crew.place, task.job.place) > world.figures.too_far_s:
            return None
        return Order(task, leave_s, fetch)


def total_of(tasks: list[Task]) -> Counter[str]:
    """What several visits bring together."""
    every: Counter[str] = Counter()
    for task in tasks:
        every.update(task.deliver)
    return every
