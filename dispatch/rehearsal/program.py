"""
The rehearsed desk that is the program itself: every call, visit and machine goes through the use cases of the rooms.

The world says what happens and when; who goes where is what the program's offers, call-outs, timers and plans say.
"""

import math
from collections import Counter
from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID, uuid5

from django.contrib.auth.models import User

from dispatch.bookings import book_visit
from dispatch.callouts import answer_call_out
from dispatch.emergencies import send
from dispatch.models import CallOut, CallOutStep, Stop
from dispatch.models import Crew as CrewRow
from dispatch.offering import offers
from dispatch.rehearsal.program_machines import ProgramMachines
from dispatch.rehearsal.setting import loss_document, trade
from dispatch.rehearsal.sim.desk import Crew, Desk, Steps
from dispatch.rehearsal.sim.facts import DAY_S, FIRST, MONITOR, OTHER, PICK_UP, Fetch, Job, Order, Task
from dispatch.rehearsal.sim.world import World
from dispatch.replay.play import fire
from equipment.closing import close_job
from jobs import drying, stops
from jobs.drying_values import MaterialValue
from jobs.intake import answer_call, take_call
from jobs.models import Area, Visit
from jobs.refusals import Refusal

RUNS = UUID("0b9ef1de-0a44-5e0a-8a53-3a0d3b8f1c55")
# How often timers fire between events, and who waits is asked about again.
TICK_S, AGAIN_S = 900, 1800
THINKING_S = 120
# The one point that stands for the slowest material of a job: what the meter shows wet, at rest, and when dry.
WET, AT_REST, STANDARD, GOAL = 60.0, 11.0, 12.0, 14.0
FLOORS = frozenset({"carpet", "sheet_vinyl", "hardwood_floor", "concrete"})


class Program(Desk):
    """What the program would do: its tables are the only memory, but for which call is whose."""

    def __init__(self, world: World, *, area: Area, midnight: datetime, towns: Mapping[str, Mapping[str, Any]]) -> None:
        super().__init__(world)
        self.area, self.midnight, self.towns = area, midnight, towns
        people = User.objects.filter(memberships__area=area).order_by("pk")
        self.dispatcher = people.filter(memberships__role="dispatcher")[0]
        self.waiting: dict[int, Task] = {}
        self.calls: dict[int, int] = {}
        self.job_ids: dict[int, int] = {}
        self.numbers: dict[int, int] = {}
        self.rows: dict[str, CrewRow | None] = {}
        self.driving_to: dict[str, int] = {}
        self.refused: Counter[str] = Counter()
        self.done = 0

    @property
    def now(self) -> datetime:
        return self.at(self.world.now_s)

    def at(self, second: int) -> datetime:
        """The moment that so many seconds from the rehearsal's zero are."""
        return self.midnight + timedelta(seconds=second)

    def key(self, *what: object) -> UUID:
        self.done += 1
        return uuid5(RUNS, " ".join(map(str, (self.done, *what))))

    # Callers

    def new_day(self, day: int) -> None:
        self.world.env.process(self._clock())

    def opened(self, task: Task) -> None:
        if task.kind != FIRST:
            return
        if task.job.number not in self.calls:
            self._take(task.job)
        if task.urgent:
            self.waiting[task.job.number] = task
            self._send(task)

    def came(self, task: Task) -> None:
        if task.kind != FIRST or task.urgent:
            return
        # Let in first in the morning: the visit is booked while the caller is on the phone.
        self._take(task.job)
        opens, due = self.at(task.open_s), self.at(task.due_s)
        booked = book_visit(
            key=self.key("book"),
            actor=self.dispatcher,
            now=self.now,
            call_id=self.calls[task.job.number],
            due_on=opens.astimezone(self.area.zone).date(),
            window_from=opens,
            window_until=due,
        )
        self._known(task.job, booked.job_id)

    def _take(self, job: Job) -> None:
        now = self.now
        call = take_call(key=self.key("call"), actor=self.dispatcher, now=now, area_id=self.area.pk)
        self.calls[job.number] = call.call_id
        for field, value in self._answers(job).items():
            answer_call(
                key=self.key("answer"),
                actor=self.dispatcher,
                now=now,
                call_id=call.call_id,
                field=field,
                value=value,
                seen=0,
            )

    def _answers(self, job: Job) -> dict[str, Any]:
        """What this caller says, in the order of the desk's questions."""
        town, row = self.towns[job.town], trade()["losses"][job.loss]
        floor = next((word for word in row["materials"] if word in FLOORS), "carpet")
        rooms = loss_document(job.loss, job.rooms)["chambers"][0]["rooms"]
        return {
            "callback_number": f"360-555-{1000 + job.number % 9000:04}",
            "caller_name": f"Caller {job.number}",
            "caller_role": "owner",
            "street": f"{100 + job.number} Rehearsal Lane",
            "zip_code": town["zip"],
            "town": job.town,
            "state": job.state,
            "point": [job.place.lat, job.place.lon],
            "water_source": row["loss_source"],
            "running": "stopped",
            "power": "on",
            "category": row["category"],
            "building": "house",
            "year_built": 1996,
            "dwelling_units": 1,
            "lets_in": "owner",
            "can_sign": "owner",
            "payer": job.payer,
            "rooms": [
                {
                    "id": f"room-{number}",
                    "name": room["name"],
                    "chamber": "ground floor",
                    "length_ft": room["length_ft"],
                    "width_ft": room["width_ft"],
                    "height_ft": room["height_ft"],
                    "floor": floor,
                    "wet_floor_sqft": room["wet_floor_sqft"],
                    "wet_lower_wall_sqft": room["wet_lower_wall_sqft"],
                }
                for number, room in enumerate(rooms, start=1)
            ],
        }

    def _send(self, task: Task) -> None:
        """Send whoever is first on the list, and hear the lead say that they leave."""
        now, call_id = self.now, self.calls[task.job.number]
        best = next(iter(offers(call_id=call_id, now=now).offers), None)
        if best is None:
            return
        try:
            sent = send(key=self.key("send"), actor=self.dispatcher, now=now, call_id=call_id, crew_id=best.crew_id)
        except Refusal as refusal:
            self.refused[refusal.code] += 1
            return
        del self.waiting[task.job.number]
        self._known(task.job, sent.job_id)
        self._answer(sent.call_out_id, now)
        self.world.wake()

    def _answer(self, call_out_id: int, now: datetime) -> None:
        call_out = CallOut.objects.get(pk=call_out_id)
        step = call_out.steps.order_by("-number").first()
        if step is None or call_out.state != CallOut.State.ASKING:
            return
        answer_call_out(
            key=self.key("answer call-out"),
            actor=self.dispatcher,
            now=now,
            call_out_id=call_out_id,
            answer=CallOutStep.Answer.LEAVING,
            person_id=step.person_id,
        )

    def _known(self, job: Job, job_id: int) -> None:
        self.job_ids[job.number], self.numbers[job_id] = job_id, job.number
        self._machines.job_ids[job.number] = job_id

    @property
    def _machines(self) -> ProgramMachines:
        assert isinstance(self.world.machines, ProgramMachines)
        return self.world.machines

    def _clock(self) -> Steps:
        for tick in range(DAY_S // TICK_S):
            fire(until=self.now)
            if tick % (AGAIN_S // TICK_S) == 0:
                for task in list(self.waiting.values()):
                    self._send(task)
            self.world.wake()
            yield self.world.env.timeout(TICK_S)

    # Crews

    def next_order(self, crew: Crew) -> Order | None:
        row = self._row(crew)
        if row is None:
            return None
        stop = (
            Stop.objects.filter(crew=row, visit__state=Visit.State.DUE)
            .select_related("visit", "fetch_from")
            .order_by("position")
            .first()
        )
        if stop is None:
            return None
        task = self._task(stop)
        if task is None:
            return None
        fetch = None
        if stop.fetch_from is not None and stop.fetched_at is None:
            fetch = Fetch(stop.fetch_from.code, {})
        order = Order(task, 0, fetch)
        world = self.world
        drive_s = world.drive_s(crew, order)
        leave_s = max(world.now_s, task.open_s - drive_s)
        home_s = world.road.drive_s(task.job.place, world.depots[crew.shift.home].place)
        if max(leave_s + drive_s, task.open_s) + task.expected_s + home_s > crew.at_latest_s:
            return None
        self.driving_to[crew.id] = stop.visit_id
        return Order(task, leave_s, fetch)

    def _row(self, crew: Crew) -> CrewRow | None:
        if crew.id not in self.rows:
            on = self.midnight.date() + timedelta(days=int(crew.id.rpartition(" ")[2]))
            rows = CrewRow.objects.filter(area=self.area, service_day=on, name=crew.shift.crew)
            self.rows[crew.id] = rows.select_related("lead__user").first()
        return self.rows[crew.id]

    def _task(self, stop: Stop) -> Task | None:
        """The world's visit behind a stop; a delivery is one that only the program knows."""
        number = self.numbers.get(stop.visit.job_id)
        if number is None:
            return None
        if stop.visit.kind in (Visit.Kind.DELIVERY, Visit.Kind.REFUEL):
            name = f"p{stop.visit_id}"
            if name not in self.world.open:
                job = self.world.jobs[number - 1]
                takes_s, deliver = stop.visit.service_s, dict(stop.visit.needs.get("deliver", {}))
                now_s = self.world.now_s
                due_s = (now_s // DAY_S + 1) * DAY_S
                self.world.open[name] = Task(name, job, OTHER, now_s, due_s, takes_s, takes_s, deliver=deliver)
            return self.world.open[name]
        return next(
            (task for task in self.world.open.values() if task.job.number == number and task.kind != OTHER), None
        )

    # At the door

    def left(self, crew: Crew, order: Order) -> None:
        stops.leave_for_stop(
            key=self.key("leave"), actor=self._lead(crew), now=self.now, visit_id=self.driving_to[crew.id]
        )

    def arrived(self, crew: Crew, task: Task) -> None:
        stops.arrive_at_stop(
            key=self.key("arrive"), actor=self._lead(crew), now=self.now, visit_id=self.driving_to[crew.id]
        )

    def finished(self, crew: Crew, task: Task) -> None:
        """Readings where there is something to read, the visit's end, and the job's once nothing stands there."""
        lead, now, visit_id = self._lead(crew), self.now, self.driving_to.pop(crew.id)
        number = task.job.number
        job_id = self.job_ids[number]
        if task.kind == FIRST:
            drying.add_point(
                key=self.key("point"),
                actor=lead,
                now=now,
                job_id=job_id,
                room_name="room 1",
                material="drywall",
                meter="pin meter 1",
                scale="relative_0_100",
                dry_standard=STANDARD,
                goal=GOAL,
            )
        if task.kind in (FIRST, MONITOR):
            drying.record_readings(
                key=self.key("read"),
                actor=lead,
                now=now,
                job_id=job_id,
                visit_id=visit_id,
                materials=(MaterialValue(1, self._reading(number)),),
                confirmed=True,
            )
        stops.finish_stop(key=self.key("finish"), actor=lead, now=now, visit_id=visit_id)
        if task.kind == PICK_UP and not self._machines.units_at(number):
            close_job(key=self.key("close"), actor=self.dispatcher, now=now, job_id=job_id)

    def _reading(self, number: int) -> float:
        """The decay that passes the goal when the world's job is dry."""
        state = self.world.drying[number]
        share = min(1.0, state.done_by(self.world.now_s) / state.job.dry_days)
        value = AT_REST + (WET - AT_REST) * math.exp(-math.log((WET - AT_REST) / (GOAL - AT_REST)) * share)
        return round(min(value, GOAL) if share >= 1 else max(value, GOAL + 0.1), 1)

    def _lead(self, crew: Crew) -> User:
        row = self._row(crew)
        assert row is not None
        return row.lead.user
