"""Two plain rules to compare with: whoever waits longest is served first, or whoever is nearest."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Iterable

from dispatch.rehearsal.sim.desk import Crew, Desk
from dispatch.rehearsal.sim.facts import Order, Task
from dispatch.rehearsal.sim.world import World


class Queue(Desk):
    """Nobody is sent before they are free; callers go before the daily visits."""

    def __init__(self, world: World) -> None:
        super().__init__(world)
        self.urgent: dict[str, Task] = {}
        self.routine: dict[str, Task] = {}
        self.given: dict[str, Order] = {}

    def opened(self, task: Task) -> None:
        ways = [
            (crew, order)
            for crew in self.world.out.values()
            if crew.idle is not None and crew.id not in self.given and (order := self.order_for(crew, task))
        ]
        if not ways:
            (self.urgent if task.urgent else self.routine)[task.id] = task
            return
        crew, order = self.best_crew(ways)
        self.given[crew.id] = order
        self.world.wake(crew)

    def next_order(self, crew: Crew) -> Order | None:
        order = self.given.get(crew.id)
        if order is not None:
            return order
        for waiting in (self.urgent, self.routine):
            order = self.best_order(crew, waiting.values())
            if order is not None:
                del waiting[order.task.id]
                self.given[crew.id] = order
                return order
        return None

    def left(self, crew: Crew, order: Order) -> None:
        self.given.pop(crew.id, None)

    def ended(self, crew: Crew) -> None:
        order = self.given.pop(crew.id, None)
        if order is not None:
            self.opened(order.task)

    @abstractmethod
    def best_crew(self, ways: list[tuple[Crew, Order]]) -> tuple[Crew, Order]:
        """Which of the idle crews goes."""

    @abstractmethod
    def best_order(self, crew: Crew, tasks: Iterable[Task]) -> Order | None:
        """Where a crew that became free goes."""


class FirstCome(Queue):
    """First come, first served: the longest waiting visit goes to the crew that has been idle longest."""

    def best_crew(self, ways: list[tuple[Crew, Order]]) -> tuple[Crew, Order]:
        return min(ways, key=lambda way: way[0].idle_since_s)

    def best_order(self, crew: Crew, tasks: Iterable[Task]) -> Order | None:
        return next((order for task in tasks if (order := self.order_for(crew, task))), None)


class Nearest(Queue):
    """The nearest free crew goes; a crew that becomes free goes to the nearest visit."""

    def best_crew(self, ways: list[tuple[Crew, Order]]) -> tuple[Crew, Order]:
        return min(ways, key=lambda way: self.world.drive_s(*way))

    def best_order(self, crew: Crew, tasks: Iterable[Task]) -> Order | None:
        orders = [order for task in tasks if (order := self.order_for(crew, task))]
        return min(orders, key=lambda order: self.world.drive_s(crew, order), default=None)
