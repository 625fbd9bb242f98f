"""The rehearsed world: callers ring, crews come to work, drive, visit and go home; machines dry and come back."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from typing import Any

import simpy

from dispatch.planner.problem import Place
from dispatch.rehearsal.sim.desk import Crew, Desk, Steps
from dispatch.rehearsal.sim.facts import (
    DAY_S,
    FIRST,
    MONITOR,
    OTHER,
    PICK_UP,
    Company,
    Figures,
    Job,
    Order,
    Shift,
    Task,
)
from dispatch.rehearsal.sim.machines import Drying, Machines
from dispatch.rehearsal.sim.records import Log, Seen, Short, Worked
from dispatch.rehearsal.sim.road import Road
from dispatch.rehearsal.sim.stock import part, rest

# How long before a visit may begin a crew is told of it.
AHEAD_S = 3600


class World:
    """
    One run: a company, its callers, and a desk that decides who goes where.

    :param desk: makes the desk for this world; a desk decides, the world lets it happen.
    :param weekday: of the first day, Monday being 0.
    :param on_day: told every midnight, with the number of the day that begins.
    """

    def __init__(
        self,
        company: Company,
        jobs: Sequence[Job],
        desk: Callable[[World], Desk],
        *,
        days: int,
        figures: Figures | None = None,
        weekday: int = 0,
        road: Road | None = None,
        machines: Machines | None = None,
        on_day: Callable[[int], None] | None = None,
    ) -> None:
        self.company, self.jobs, self.days, self.weekday = company, jobs, days, weekday
        self.figures, self.road = figures or Figures(), road or Road()
        self.env = simpy.Environment()
        self.depots = {depot.place.id: depot for depot in company.depots}
        self.machines = machines or Machines(company)
        self.log = Log()
        self.out: dict[str, Crew] = {}
        self.drying: dict[int, Drying] = {}
        self.open: dict[str, Task] = {}
        self.visits: Counter[int] = Counter()
        self.vehicles = {shift.vehicle: simpy.Resource(self.env) for shift in company.shifts}
        self.rested_s: dict[str, int] = {}
        self.largest: Counter[str] = Counter()
        for shift in company.shifts:
            self.largest |= Counter(shift.capacity)
        self.on_day = on_day or (lambda day: None)
        self.desk = desk(self)

    @property
    def now_s(self) -> int:
        return int(self.env.now)

    def run(self) -> Log:
        """Let it all happen; what nobody visited stands in ``still_open``."""
        self.env.process(self._days())
        self.env.process(self._callers())
        self.env.run(until=self.days * DAY_S)
        self.log.still_open = [(task.id, task.job.number, task.kind, task.due_s) for task in self.open.values()]
        return self.log

    def shifts_on(self, day: int) -> Iterator[Shift]:
        """The shifts of a day, counted from the first."""
        return (shift for shift in self.company.shifts if shift.on(day, (self.weekday + day) % 7))

    def drive_s(self, crew: Crew, order: Order) -> int:
        """Seconds until the crew is at the door if it left now, loading on the way included."""
        if order.fetch is None:
            return self.road.drive_s(crew.place, order.task.job.place)
        depot = self.depots[order.fetch.depot]
        there_s = self.road.drive_s(crew.place, depot.place) + depot.load_s
        return there_s + self.road.drive_s(depot.place, order.task.job.place)

    def wake(self, crew: Crew | None = None) -> None:
        """Let an idle crew, or every one, ask again what to do."""
        for one in list(self.out.values()) if crew is None else [crew]:
            if one.idle is not None and not one.idle.triggered:
                one.idle.succeed()

    def _until(self, moment_s: int) -> simpy.Event:
        return self.env.timeout(max(0, moment_s - self.now_s))

    def _days(self) -> Steps:
        for day in range(self.days):
            yield self._until(day * DAY_S)
            self.on_day(day)
            for shift in self.shifts_on(day):
                self.env.process(self._shift(shift, day))
            self.desk.new_day(day)

    def _callers(self) -> Steps:
        for job in self.jobs:
            yield self._until(job.called_s)
            self.log.callers[job.number] = job.called_s
            self._add(self._task(job, FIRST, max(job.not_before_s, self.now_s), job.due_s))

    def _task(self, job: Job, kind: str, open_s: int, due_s: int) -> Task:
        number = self.visits[job.number]
        self.visits[job.number] += 1
        if kind == FIRST:
            load = part(job.need, self.largest)
            return Task(f"v{job.number}", job, kind, open_s, due_s, job.expected_s, job.first_s, deliver=load)
        takes_s = job.visits_s[(number - 1) % len(job.visits_s)]
        expected_s = sum(job.visits_s) // len(job.visits_s)
        return Task(f"v{job.number}.{number}", job, kind, open_s, due_s, expected_s, takes_s)

    def _add(self, task: Task) -> None:
        self.open[task.id] = task
        self.desk.came(task)
        if task.open_s - AHEAD_S > self.now_s:
            self.env.process(self._open_later(task))
        else:
            self.desk.opened(task)

    def _open_later(self, task: Task) -> Steps:
        yield self._until(task.open_s - AHEAD_S)
        self.desk.opened(task)

    def _shift(self, shift: Shift, day: int) -> Steps:
        until_s = day * DAY_S + shift.until_s
        yield self._until(day * DAY_S + shift.from_s)
        while True:
            yield self._until(max((self.rested_s.get(who, 0) for who in shift.people), default=0))
            with self.vehicles[shift.vehicle].request() as turn:
                yield turn
                # While the vehicle was out its people may have been with it.
                if any(self.rested_s.get(who, 0) > self.now_s for who in shift.people):
                    continue
                if self.now_s >= until_s:
                    self.log.stayed_home += 1
                    return
                yield from self._at_work(shift, day, until_s)
                return

    def _at_work(self, shift: Shift, day: int, until_s: int) -> Steps:
        home = self.depots[shift.home].place
        crew = Crew(
            id=f"{shift.crew} {day}",
            shift=shift,
            place=home,
            began_s=self.now_s,
            until_s=until_s,
            at_latest_s=day * DAY_S + shift.at_latest_s,
            free_s=self.now_s,
        )
        self.machines.load(shift, self.desk.ordered(crew))
        self.out[crew.id] = crew
        self.desk.started(crew)
        yield from self._work(crew)
        del self.out[crew.id]
        self.desk.ended(crew)
        yield from self._drive(crew, home)
        self._home(crew)

    def _home(self, crew: Crew) -> None:
        shift = crew.shift
        dirty = self.machines.bring_home(shift)
        if dirty:
            self.env.process(self._clean(shift.home, dirty))
        over_s = max(0, self.now_s - crew.until_s)
        self.log.worked.append(Worked(crew.id, crew.began_s, self.now_s, crew.driving_s, over_s))
        for who in shift.people:
            self.rested_s[who] = self.now_s + self.figures.rest_s

    def _clean(self, depot: str, units: dict[str, int]) -> Steps:
        yield self._until(self.now_s + self.figures.clean_s)
        self.machines.cleaned(depot, units)

    def _work(self, crew: Crew) -> Steps:
        figures = self.figures
        while True:
            if figures.break_s and not crew.had_break and self.now_s >= crew.began_s + figures.break_from_s:
                crew.had_break = True
                crew.free_s = self.now_s + figures.break_s
                yield self._until(crew.free_s)
            order = self.desk.next_order(crew)
            if order is not None and order.leave_s <= self.now_s:
                yield from self._visit(crew, order)
                continue
            if order is None and self.now_s >= crew.until_s:
                return
            crew.idle, crew.idle_since_s = self.env.event(), self.now_s
            yield crew.idle | self._until(crew.until_s if order is None else order.leave_s)
            crew.idle = None

    def _drive(self, crew: Crew, to: Place) -> Steps:
        seconds = self.road.drive_s(crew.place, to)
        crew.driving_s += seconds
        yield self._until(self.now_s + seconds)
        crew.place = to

    def _visit(self, crew: Crew, order: Order) -> Steps:
        task, left_s = order.task, self.now_s
        crew.task, crew.free_s = task, max(left_s + self.drive_s(crew, order), task.open_s) + task.expected_s
        self.desk.left(crew, order)
        if order.fetch is not None:
            depot = self.depots[order.fetch.depot]
            yield from self._drive(crew, depot.place)
            yield self._until(self.now_s + depot.load_s)
            self.machines.fetch(crew.shift, order.fetch)
        yield from self._drive(crew, task.job.place)
        arrive_s = self.now_s
        yield self._until(task.open_s)
        self.desk.arrived(crew, task)
        yield self._until(self.now_s + task.takes_s)
        del self.open[task.id]
        crew.task = None
        crew.free_s = self.now_s
        self.log.seen.append(
            Seen(task.id, task.job.number, task.kind, crew.id, task.due_s, left_s, arrive_s, self.now_s)
        )
        self._serve(crew, task)
        self.desk.finished(crew, task)

    def _serve(self, crew: Crew, task: Task) -> None:
        """What was done at the door, and the visit that follows from it."""
        job, now_s = task.job, self.now_s
        if task.kind == PICK_UP:
            left = self.machines.take_up(crew.shift, task)
            if left:
                self._follow(job, PICK_UP, collect=left)
            return
        if task.kind == FIRST and not job.dry_days:
            return
        got = self.machines.place(crew.shift, task)
        if task.kind == OTHER:
            if job.number in self.drying:
                self.drying[job.number].place(got, now_s)
            return
        state = self.drying.setdefault(job.number, Drying(job, self.figures.slow_share, now_s, now_s))
        state.place(got, now_s)
        if task.kind == FIRST:
            short = rest(rest(job.need, got), rest(job.need, part(job.need, crew.shift.capacity)))
            self.log.short += [Short(job.number, now_s, kind, count) for kind, count in sorted(short.items())]
        elif state.dry_at(now_s):
            self.log.dry[job.number] = (now_s - state.first_s) / DAY_S
            self._follow(job, PICK_UP, collect=dict(state.placed))
            return
        self._follow(job, MONITOR, deliver=rest(job.need, state.placed))

    def _follow(self, job: Job, kind: str, deliver: dict[str, int] | None = None, collect: Any = None) -> None:
        day = self.now_s // DAY_S + 1
        figures = self.figures
        task = self._task(job, kind, day * DAY_S + figures.visits_from_s, day * DAY_S + figures.visits_until_s)
        task.deliver, task.collect = part(deliver or {}, self.largest), part(collect or {}, self.largest)
        self._add(task)
