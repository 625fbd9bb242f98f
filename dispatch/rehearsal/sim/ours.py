"""
The desk as the program runs it: offers by the planner for every call, a planned day, and a new plan while callers wait.

It knows when crews are expected to be free, not when they will be.
"""

from __future__ import annotations

from dispatch.planner.compact import compact_of
from dispatch.planner.construct import Draft, filled
from dispatch.planner.finish import draft_of
from dispatch.planner.frame import Frame
from dispatch.planner.offers import Offer, Standing
from dispatch.planner.outlook import outlook_of
from dispatch.planner.parallel import search
from dispatch.rehearsal.sim.days import Ahead, ahead, frame_of_day
from dispatch.rehearsal.sim.desk import Crew, Desk, Steps, total_of
from dispatch.rehearsal.sim.facts import DAY_S, FIRST, Order, Task, Units
from dispatch.rehearsal.sim.world import World

PLAN_AT_S = 6 * 3600
"""The day is planned before its first shift."""
AGAIN_S = 1800
"""How often the day is planned again while somebody waits."""


class Ours(Desk):
    """Routes by crew; whoever fits on none waits and is asked about again."""

    def __init__(self, world: World) -> None:
        super().__init__(world)
        self.routes: dict[str, list[Task]] = {}
        self.waiting: dict[str, Task] = {}
        self.starts_s: dict[str, int] = {}
        self.over: set[str] = set()
        self.plans = 0

    def new_day(self, day: int) -> None:
        self.world.env.process(self._clock(day))

    def came(self, task: Task) -> None:
        self.waiting[task.id] = task

    def opened(self, task: Task) -> None:
        # What the morning's plan has on a route is not asked about again.
        if task.id in self.waiting:
            self._offer(task)

    def next_order(self, crew: Crew) -> Order | None:
        route = self.routes.get(crew.id, [])
        while route:
            order = self._order(crew, route[0])
            if order is not None:
                return order
            # It took longer than expected: this crew cannot make it any more.
            self._wait(route.pop(0))
        return None

    def left(self, crew: Crew, order: Order) -> None:
        self.routes[crew.id].remove(order.task)

    def ended(self, crew: Crew) -> None:
        self.over.add(crew.id)
        for task in self.routes.pop(crew.id, []):
            self._wait(task)

    def ordered(self, crew: Crew) -> Units:
        return total_of([task for task in self.routes.get(crew.id, []) if not task.urgent])

    def _wait(self, task: Task) -> None:
        self.waiting[task.id] = task

    def _order(self, crew: Crew, task: Task) -> Order | None:
        """Whether the crew's real hours still hold it: back by its latest hour, as the planner has it."""
        world = self.world
        order = Order(task, 0, self.fetch_for(crew, task))
        drive_s = world.drive_s(crew, order)
        leave_s = max(world.now_s, task.open_s - drive_s)
        home_s = world.road.drive_s(task.job.place, world.depots[crew.shift.home].place)
        if max(leave_s + drive_s, task.open_s) + task.expected_s + home_s > crew.at_latest_s:
            return None
        return Order(task, leave_s, order.fetch)

    def _clock(self, day: int) -> Steps:
        yield self.world.env.timeout(PLAN_AT_S)
        self._plan(day)
        for _ in range(PLAN_AT_S + AGAIN_S, DAY_S, AGAIN_S):
            yield self.world.env.timeout(AGAIN_S)
            if self._waiting_on(day) or self._will_be_late():
                self._plan(day)

    def _waiting_on(self, day: int) -> list[Task]:
        return [task for task in self.waiting.values() if task.open_s < (day + 1) * DAY_S]

    def _will_be_late(self) -> bool:
        """Whether a caller has a crew that is expected only after what was promised."""
        on_routes = (task for route in self.routes.values() for task in route)
        return any(task.kind == FIRST and self.starts_s.get(task.id, 0) > task.due_s for task in on_routes)

    def _standing(self, new: list[Task]) -> tuple[list[Ahead], dict[str, Task], Frame, Draft]:
        """The day as it stands with visits that are on no route; crews whose route no longer holds give stops back."""
        world = self.world
        crews = ahead(world, self.over)
        known = {crew.id for crew in crews}
        for crew_id in [name for name in self.routes if name not in known and name not in world.out]:
            for task in self.routes.pop(crew_id):
                self._wait(task)
        routed = [task for crew in crews for task in self.routes.get(crew.id, [])]
        tasks = {task.id: task for task in (*routed, *new)}
        frame = frame_of_day(world, crews, list(tasks.values()), self.starts_s)
        orders = [[frame.visit_at[task.id] for task in self.routes.get(crew.id, [])] for crew in crews]
        return crews, tasks, frame, draft_of(frame, orders)

    def _offer(self, task: Task) -> None:
        """Ask every crew, and send the one that is there soonest, as the list of offers is ranked."""
        crews, tasks, frame, draft = self._standing([task])
        if not crews:
            return
        outlooks = tuple(outlook_of(frame, number, route) for number, route in enumerate(draft.routes))
        far_s = 2 * self.world.figures.too_far_s
        offers = [row for row in Standing(frame, outlooks).offers(task.id).offers if row.added_driving_s <= far_s]
        self._keep(crews, tasks, frame, draft)
        if offers:
            self._send(task, min(offers, key=lambda row: (row.start_s, row.added_cost)))

    def _send(self, task: Task, offer: Offer) -> None:
        del self.waiting[task.id]
        self.starts_s[task.id] = offer.start_s
        route = self.routes.setdefault(offer.crew, [])
        route.insert(offer.position, task)
        crew = self.world.out.get(offer.crew)
        if crew is not None:
            self.world.wake(crew)

    def _plan(self, day: int) -> None:
        """A new plan of the running day, begun from the routes as they stand."""
        new = self._waiting_on(day)
        crews, tasks, frame, draft = self._standing(new)
        if not crews or not frame.visits:
            return
        self.plans += 1
        draft = filled(frame, draft, sorted(draft.left_out))
        start = [route.visits for route in draft.routes]
        figures = self.world.figures
        found = search(compact_of(frame), self.plans, iterations=figures.plan_iterations, start=start, warm=True)
        draft = min(draft_of(frame, found.orders), draft, key=lambda one: one.worth(frame))
        self._keep(crews, tasks, frame, draft)
        self.world.wake()

    def _keep(self, crews: list[Ahead], tasks: dict[str, Task], frame: Frame, draft: Draft) -> None:
        """The draft becomes the routes; what it leaves out waits."""
        for crew, route in zip(crews, draft.routes, strict=True):
            self.routes[crew.id] = [tasks[frame.visits[v].id] for v in route.visits]
            for v, start_s in zip(route.visits, route.starts_s, strict=True):
                name = frame.visits[v].id
                self.starts_s[name] = start_s
                self.waiting.pop(name, None)
        for v in draft.left_out:
            self._wait(tasks[frame.visits[v].id])
