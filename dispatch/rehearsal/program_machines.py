"""The rehearsed company's machines as the program has them: numbered units, scanned by the people who move them."""

from collections import Counter, defaultdict
from collections.abc import Callable
from datetime import datetime, timedelta
from uuid import UUID, uuid5

from django.contrib.auth.models import User

from dispatch.models import Crew
from dispatch.rehearsal.sim.facts import Company, Fetch, Shift, Task, Units
from dispatch.rehearsal.sim.machines import Load, Machines
from equipment import custody
from equipment.custody.conditions import set_condition, steps_for
from equipment.models import LoadList, UnitNow, Vehicle, Warehouse
from equipment.own_catalogue import KINDS
from jobs.models import Area

RUNS = UUID("f5f4a2c0-7a55-5a66-8a0e-5a6f0a1c9b21")
READY = "ready"


class ProgramMachines(Machines):
    """As `Machines`, with the ledger of custody for its books. `now_of` says what time it is."""

    def __init__(self, company: Company, *, area: Area) -> None:
        super().__init__(company)
        self.area = area
        self.now_of: Callable[[], datetime] = _no_clock
        self.vehicles = {row.code: row for row in Vehicle.objects.filter(area=area)}
        self.warehouses = {row.code: row for row in Warehouse.objects.filter(area=area)}
        people = User.objects.filter(memberships__area=area).order_by("pk")
        crews = Crew.objects.filter(area=area).select_related("lead__user")
        self.leads = {crew.name: crew.lead.user for crew in crews}
        self.keeper = people.filter(memberships__role="warehouse")[0]
        self.job_ids: dict[int, int] = {}
        self.washing: dict[str, list[tuple[str, ...]]] = defaultdict(list)
        self.done = 0

    def key(self, what: str) -> UUID:
        self.done += 1
        return uuid5(RUNS, f"{self.done} {what}")

    def of(self, shift: Shift) -> Load:
        load = Load()
        for row in self._aboard(shift):
            (load.ready if row.condition == READY else load.dirty)[row.unit.model.kind] += 1
        return load

    def load(self, shift: Shift, ordered: Units) -> None:
        """All load lists that wait for the vehicle here, as far as there are units; then its standing stock."""
        vehicle, home = self.vehicles[shift.vehicle], self.warehouses[shift.home]
        self._load_lists(vehicle, home)
        there = Counter(row.unit.model.code for row in self._aboard(shift) if row.condition == READY)
        room = self.of(shift).room(shift.capacity)
        for model, count in sorted(vehicle.standing_stock.items()):
            units = self._ready(home, model_code=model)[: max(0, count - there[model])]
            kept = [row for row in units if room.get(row.unit.model.kind, 0) > 0]
            kept = kept[: room.get(kept[0].unit.model.kind, 0)] if kept else []
            if kept:
                room[kept[0].unit.model.kind] -= len(kept)
                self._out(kept, vehicle, home, None)

    def fetch(self, shift: Shift, fetch: Fetch) -> None:
        self._load_lists(self.vehicles[shift.vehicle], self.warehouses[fetch.depot])

    def place(self, shift: Shift, task: Task) -> dict[str, int]:
        wanted = Counter(task.deliver)
        chosen: list[UnitNow] = []
        for row in self._aboard(shift):
            if row.condition == READY and wanted[row.unit.model.kind] > 0:
                wanted[row.unit.model.kind] -= 1
                chosen.append(row)
        if chosen:
            custody.place_units(
                key=self.key("place"),
                actor=self.leads[shift.crew],
                now=self.now_of(),
                job_id=self.job_ids[task.job.number],
                room_name="room 1",
                numbers=_numbers(chosen),
                vehicle_id=self.vehicles[shift.vehicle].pk,
            )
        return dict(Counter(row.unit.model.kind for row in chosen))

    def take_up(self, shift: Shift, task: Task) -> dict[str, int]:
        room = Counter(self.of(shift).room(shift.capacity))
        chosen, left = [], Counter[str]()
        for row in self.units_at(task.job.number):
            kind = row.unit.model.kind
            if room[kind] > 0:
                room[kind] -= 1
                chosen.append(row)
            else:
                left[kind] += 1
        if chosen:
            custody.take_up_units(
                key=self.key("take up"),
                actor=self.leads[shift.crew],
                now=self.now_of(),
                job_id=self.job_ids[task.job.number],
                vehicle_id=self.vehicles[shift.vehicle].pk,
                numbers=_numbers(chosen),
            )
        return dict(left)

    def bring_home(self, shift: Shift) -> dict[str, int]:
        dirty = [row for row in self._aboard(shift) if row.condition != READY]
        if dirty:
            home = self.warehouses[shift.home]
            custody.scan_in(
                key=self.key("in"),
                actor=self.keeper,
                now=self.now_of(),
                numbers=_numbers(dirty),
                warehouse_id=home.pk,
            )
            self.washing[shift.home].append(_numbers(dirty))
        return dict(Counter(row.unit.model.kind for row in dirty))

    def cleaned(self, depot: str, units: Units) -> None:
        numbers = self.washing[depot].pop(0)
        rows = UnitNow.objects.filter(unit__number__in=numbers).select_related("unit__model", "holder")
        by_steps: dict[tuple[str, ...], list[UnitNow]] = defaultdict(list)
        for row in rows.order_by("unit__number"):
            if row.condition != READY:
                by_steps[steps_for(row)].append(row)
        for steps, some in by_steps.items():
            set_condition(
                key=self.key("clean"),
                actor=self.keeper,
                now=self.now_of(),
                numbers=_numbers(some),
                condition=READY,
                steps=steps,
            )

    def units_at(self, number: int) -> list[UnitNow]:
        """The units that stand at a job."""
        rows = UnitNow.objects.filter(holder__job_id=self.job_ids[number]).select_related("unit__model", "holder")
        return list(rows.order_by("unit__number"))

    def _aboard(self, shift: Shift) -> list[UnitNow]:
        rows = UnitNow.objects.filter(holder__vehicle__code=shift.vehicle, unit__model__kind__in=KINDS)
        return list(rows.select_related("unit__model", "holder").order_by("unit__number"))

    def _ready(self, warehouse: Warehouse, *, model_code: str) -> list[UnitNow]:
        rows = UnitNow.objects.filter(holder__warehouse=warehouse, condition=READY, unit__model__code=model_code)
        return list(rows.select_related("unit__model", "holder").order_by("unit__number"))

    def _load_lists(self, vehicle: Vehicle, warehouse: Warehouse) -> None:
        soon = self.now_of() + timedelta(hours=2)
        waiting = LoadList.objects.filter(
            vehicle=vehicle, warehouse=warehouse, state=LoadList.State.OPEN, departs_at__lte=soon
        )
        for row in waiting.order_by("departs_at", "pk"):
            for line in row.lines.select_related("model").prefetch_related("loaded"):
                missing = line.wanted - len(line.loaded.all())
                units = self._ready(warehouse, model_code=line.model.code)[: max(0, missing)]
                if units:
                    self._out(units, vehicle, warehouse, row.pk)

    def _out(self, units: list[UnitNow], vehicle: Vehicle, warehouse: Warehouse, load_list_id: int | None) -> None:
        custody.scan_out(
            key=self.key("out"),
            actor=self.keeper,
            now=self.now_of(),
            numbers=_numbers(units),
            vehicle_id=vehicle.pk,
            load_list_id=load_list_id,
            warehouse_id=None if load_list_id else warehouse.pk,
        )


def _no_clock() -> datetime:
    raise RuntimeError("the machines were moved before the world had begun")


def _numbers(rows: list[UnitNow]) -> tuple[str, ...]:
    return tuple(row.unit.number for row in rows)
