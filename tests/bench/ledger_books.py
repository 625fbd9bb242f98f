"""
Years of both ledgers for the benches, written in bulk: every entry sealed and every row in step, so the audit passes.

500 groups of ten units go out together ten times each (loaded, placed, taken up, unloaded, cleaned) and come back;
then 240 groups stand at 200 open jobs, and 20 groups lie ready aboard the vehicles.
"""

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import count
from typing import Any
from uuid import UUID, uuid5

from django.contrib.auth.models import User
from django.core.management.color import no_style
from django.db import connection, models

from equipment import places
from equipment.models import (
    EquipmentModel,
    LoadLine,
    LoadList,
    Move,
    Pool,
    Reservation,
    ReservationEntry,
    Unit,
    UnitNow,
    Vehicle,
    Warehouse,
)
from equipment.seals import seal_entry, seal_move
from jobs import access
from jobs.models import Area, Job, Membership

GROUPS, IN_GROUP, ROUNDS = 500, 10, 10
MODELS, WAREHOUSES, VEHICLES = 25, 4, 20
OUT, ABOARD, OPEN_JOBS, CLOSED_JOBS = 240, 20, 200, 1_500
ROUND = timedelta(days=12)
KEYS = UUID("6a1c7b52-0c53-4f0e-8f56-9b1d2a3c4e5f")
SAID = "as the lead saw it"


@dataclass
class Books:
    """Everything as it will be stored, and what is being counted on the way."""

    now: datetime
    actor: User
    units: list[Unit] = field(default_factory=list)
    rows: dict[int, UnitNow] = field(default_factory=dict)
    moves: list[Move] = field(default_factory=list)
    promises: list[Reservation] = field(default_factory=list)
    entries: list[ReservationEntry] = field(default_factory=list)
    stock: Counter[int] = field(default_factory=Counter)
    _number: Iterator[int] = field(default_factory=lambda: count(1))

    def move(self, row: UnitNow, why: str, at: datetime, *, holder: int, condition: str, **more: Any) -> None:
        """One sealed entry; the unit's row follows it."""
        first = why == Move.Why.OPENING
        entry = Move(
            pk=len(self.moves) + 1,
            key=uuid5(KEYS, f"move {len(self.moves)}"),
            unit_id=row.unit_id,
            why=why,
            from_holder_id=None if first else row.holder_id,
            to_holder_id=holder,
            condition_after=condition,
            happened_at=at,
            recorded_at=at,
            actor=self.actor,
            **more,
        )
        entry.seal = row.seal = seal_move(entry, row.seal)
        row.holder_id, row.condition, row.room_name = holder, condition, entry.room_name
        row.reservation_id, row.since, row.seen_at = entry.reservation_id, at, at
        self.moves.append(entry)

    def promise(self, pool: Pool, job: Job, start: datetime, end: datetime, quantity: int) -> Reservation:
        """A confirmed promise with the entries that made it."""
        row = Reservation(
            pk=len(self.promises) + 1,
            pool=pool,
            job=job,
            state=Reservation.State.HELD,
            quantity=quantity,
            starts_at=start,
            ends_at=end,
            keep_until=start + timedelta(hours=1),
            leads_reason=SAID,
            made_at=start,
        )
        self.promises.append(row)
        self.entry(row, "hold", start)
        row.state, row.keep_until = Reservation.State.CONFIRMED, None
        self.entry(row, "confirm", start)
        return row

    def entry(self, row: Reservation, kind: str, at: datetime) -> None:
        """One sealed entry about a promise as it stands now."""
        found = ReservationEntry(
            pk=len(self.entries) + 1,
            key=uuid5(KEYS, f"entry {len(self.entries)}"),
            reservation=row,
            kind=kind,
            quantity=row.quantity,
            drawn=row.drawn,
            starts_at=row.starts_at,
            ends_at=row.ends_at,
            keep_until=row.keep_until,
            at=at,
            actor=self.actor,
        )
        found.seal = row.seal = seal_entry(found, row, row.seal)
        self.entries.append(found)


@dataclass(frozen=True)
class Company:
    """What the benches ask about; ids of rows."""

    area_id: int
    warehouse_ids: tuple[int, ...]
    warehouse_codes: tuple[str, ...]
    vehicle_ids: tuple[int, ...]
    open_job_ids: tuple[int, ...]
    pool_ids: tuple[int, ...]


def build(now: datetime) -> Company:
    """Write the company and its years of entries into an empty database."""
    area = Area.objects.create(code="bench", name="Bench")
    people = [User.objects.create(username=f"{role}-{n}") for role in access.ROLES for n in range(10)]
    Membership.objects.bulk_create(
        Membership(user=user, area=area, role=user.username.rpartition("-")[0]) for user in people
    )
    warehouses = [_warehouse(area, n) for n in range(WAREHOUSES)]
    vehicles = [_vehicle(area, warehouses[n % WAREHOUSES], n) for n in range(VEHICLES)]
    kinds = [_model(n) for n in range(MODELS)]
    closed = [_job(area, n, now, stage=Job.Stage.CLOSED, closed_at=now) for n in range(CLOSED_JOBS)]
    still_open = [_job(area, CLOSED_JOBS + n, now, stage=Job.Stage.DRYING) for n in range(OPEN_JOBS)]
    books = Books(now, people[0])
    floor = Floor(warehouses, vehicles, kinds, [*closed, *still_open])
    _live(books, floor)
    _store(books)
    _load_lists(warehouses, vehicles, kinds, still_open, now)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    return Company(
        area.pk,
        tuple(row.pk for row in warehouses),
        tuple(row.code for row in warehouses),
        tuple(row.pk for row in vehicles),
        tuple(row.pk for row in still_open),
        tuple(floor.pools[place, kind.pk].pk for place in floor.at[:WAREHOUSES] for kind in kinds),
    )


class Floor:
    """Holders and stock rows by place; `at` holds the warehouses' holders, then the vehicles'."""

    def __init__(
        self, warehouses: list[Warehouse], vehicles: list[Vehicle], kinds: list[EquipmentModel], jobs: list[Job]
    ) -> None:
        self.kinds, self.jobs = kinds, jobs
        self.at = [places.holder_for_warehouse(row.pk).pk for row in warehouses]
        self.at += [places.holder_for_vehicle(row.pk).pk for row in vehicles]
        self.site = {job.pk: places.holder_for_job(job.pk).pk for job in jobs}
        rows = Pool.objects.bulk_create(Pool(model=kind, place_id=place) for place in self.at for kind in kinds)
        self.pools = {(row.place_id, row.model_id): row for row in rows}


def _live(books: Books, floor: Floor) -> None:
    start = books.now - (ROUNDS + 1) * ROUND
    groups: dict[int, list[UnitNow]] = defaultdict(list)
    for n in range(GROUPS * IN_GROUP):
        group = n % GROUPS
        unit = Unit(pk=n + 1, number=f"{n + 1:04}", model=floor.kinds[group % MODELS])
        books.units.append(unit)
        row = books.rows[unit.pk] = UnitNow(unit=unit, seen_by=books.actor)
        home = floor.at[(group // MODELS) % WAREHOUSES]
        books.move(row, "opening", start - timedelta(days=1), holder=home, condition="ready")
        groups[group].append(row)
    for round_ in range(ROUNDS):
        for group, rows in groups.items():
            job = floor.jobs[(round_ * GROUPS + group) % CLOSED_JOBS]
            _out_and_back(books, floor, rows, job, group, start + round_ * ROUND)
    last = books.now - timedelta(days=2)
    for group, rows in groups.items():
        if group < OUT:
            job = floor.jobs[CLOSED_JOBS + group % OPEN_JOBS]
            _take_out(books, floor, rows, job, group, last, last + timedelta(days=5))
        elif group >= GROUPS - ABOARD:
            for row in rows:
                books.move(row, "loaded", last, holder=floor.at[WAREHOUSES + group % VEHICLES], condition="ready")
        for row in rows:
            _count_in(books, floor, row)


def _take_out(
    books: Books, floor: Floor, rows: list[UnitNow], job: Job, group: int, at: datetime, until: datetime
) -> Reservation:
    pool = floor.pools[rows[0].holder_id, rows[0].unit.model_id]
    promise = books.promise(pool, job, at, until, len(rows))
    vehicle = floor.at[WAREHOUSES + group % VEHICLES]
    for row in rows:
        promise.drawn += 1
        books.entry(promise, "draw", at)
        books.move(row, "loaded", at, holder=vehicle, condition="ready", reservation=promise)
    for row in rows:
        more = {"reservation": promise, "room_name": "hall", "water_category": 1}
        books.move(row, "placed", at + timedelta(hours=2), holder=floor.site[job.pk], condition="in_use", **more)
        row.water_category = 1
    return promise


def _out_and_back(books: Books, floor: Floor, rows: list[UnitNow], job: Job, group: int, at: datetime) -> None:
    home, vehicle = rows[0].holder_id, floor.at[WAREHOUSES + group % VEHICLES]
    back = at + timedelta(days=4)
    promise = _take_out(books, floor, rows, job, group, at, back)
    for row in rows:
        promise.drawn, promise.quantity = promise.drawn - 1, promise.quantity - 1
        books.entry(promise, "give_back", back)
        dirty = {"condition": "not_yet_cleaned", "water_category": 1}
        books.move(row, "taken_up", back, holder=vehicle, **dirty)
        books.move(row, "unloaded", back + timedelta(hours=1), holder=home, hour_meter=96.0, **dirty)
        books.move(row, "condition", back + timedelta(hours=9), holder=home, condition="ready")
        row.water_category, row.hour_meter = None, 96.0
    promise.state = Reservation.State.CLOSED
    books.entry(promise, "close", back)


def _count_in(books: Books, floor: Floor, row: UnitNow) -> None:
    if row.reservation_id is not None:
        row.pool_id = books.promises[row.reservation_id - 1].pool_id
    else:
        row.pool_id = floor.pools[row.holder_id, row.unit.model_id].pk
    books.stock[row.pool_id] += 1


def _store(books: Books) -> None:
    for rows in (books.units, books.promises, list(books.rows.values()), books.moves, books.entries):
        _copy(rows)
    pools = list(Pool.objects.filter(pk__in=books.stock))
    for pool in pools:
        pool.stock = books.stock[pool.pk]
    Pool.objects.bulk_update(pools, ["stock"])


def _copy(rows: Sequence[models.Model]) -> None:
    """PostgreSQL's own bulk load, which takes seconds where rows one by one take minutes."""
    kind = type(rows[0])
    fields = list(kind._meta.concrete_fields)
    columns = ", ".join(f'"{item.column}"' for item in fields)
    with connection.cursor() as cursor:
        with cursor.copy(f'COPY "{kind._meta.db_table}" ({columns}) FROM STDIN') as copy:
            for row in rows:
                copy.write_row([getattr(row, item.attname) for item in fields])
        if isinstance(kind._meta.pk, models.AutoField):
            for statement in connection.ops.sequence_reset_sql(no_style(), [kind]):
                cursor.execute(statement)


def _load_lists(
    warehouses: list[Warehouse],
    vehicles: list[Vehicle],
    kinds: list[EquipmentModel],
    jobs: list[Job],
    now: datetime,
) -> None:
    lists = LoadList.objects.bulk_create(
        LoadList(
            vehicle=vehicle,
            warehouse=warehouses[n % WAREHOUSES],
            departs_at=now + timedelta(hours=1 + n % 5),
            crew_name=f"Crew {n}",
            made_at=now,
        )
        for n, vehicle in enumerate(vehicles)
    )
    LoadLine.objects.bulk_create(
        LoadLine(
            load_list=row,
            model=kinds[(n + 5 * stop + k) % MODELS],
            job=jobs[(n * 4 + stop) % OPEN_JOBS],
            stop_order=stop,
            wanted=3,
        )
        for n, row in enumerate(lists)
        for stop in range(1, 5)
        for k in range(3)
    )


def _warehouse(area: Area, n: int) -> Warehouse:
    where = {"street": f"{n} Dock", "town": "Vancouver", "state": "WA", "zip_code": "98661", "lat": 45.6, "lon": -122.6}
    return Warehouse.objects.create(area=area, code=f"house-{n}", name=f"Warehouse {n}", **where)


def _vehicle(area: Area, home: Warehouse, n: int) -> Vehicle:
    size = {"gvwr_lb": 9000, "payload_lb": 3000, "cargo_cuft": 300}
    return Vehicle.objects.create(area=area, code=f"v{n}", name=f"Van {n}", kind="van", home=home, **size)


def _model(n: int) -> EquipmentModel:
    kind = ("air_mover", "lgr", "air_filtration")[n % 3]
    return EquipmentModel.objects.create(
        code=f"M{n}", name=f"Model {n}", kind=kind, running_a=2, volume_cuft=2, weight_lb=20
    )


def _job(area: Area, n: int, now: datetime, **more: Any) -> Job:
    where = {"street": f"{n} Levee Row", "town": "Vancouver", "state": "WA", "lat": 45.63, "lon": -122.65}
    return Job.objects.create(
        area=area, number=f"B-{n}", opened_at=now, time_zone="America/Los_Angeles", category=1, **where, **more
    )
