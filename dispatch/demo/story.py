"""One demo job, told through the use cases that a real job goes through: call, visits, equipment, readings, closing."""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.contrib.auth.models import User

from dispatch.demo.answers import answers_of, rooms_of
from dispatch.demo.clock import DemoClock
from dispatch.demo.equipment_moves import Moves, Stock
from equipment.closing import close_job
from equipment.models import Unit
from jobs.drying import add_point, record_readings
from jobs.drying_values import AirValue, MaterialValue
from jobs.intake import answer_call, end_call, take_call
from jobs.models import Contact, Room, Visit
from jobs.opening import authorize_job, open_job
from jobs.stops import arrive_at_stop, finish_stop, leave_for_stop
from jobs.use_case import key_for
from jobs.visits import add_visit, miss_visit

Row = Mapping[str, str]
Told = Mapping[str, Sequence[Row]]
KINDS = {
    "first visit": Visit.Kind.EMERGENCY,
    "set equipment": Visit.Kind.FIRST,
    "monitor": Visit.Kind.MONITORING,
    "pick up": Visit.Kind.PICK_UP,
    "refuel": Visit.Kind.REFUEL,
}
DRIVE = timedelta(minutes=25)
TALK = timedelta(minutes=6)


@dataclass(frozen=True)
class Cast:
    """Who acts: users by name, and the dispatcher and the warehouse keeper of the demo."""

    area_id: int
    users: Mapping[str, User]
    dispatcher: User
    keeper: User


@dataclass
class Story:
    """Tells one job. `told` holds its rows by file."""

    key: UUID
    clock: DemoClock
    cast: Cast
    stock: Stock
    told: Told

    @property
    def job(self) -> Row:
        return self.told["job"][0]

    def take_the_call(self) -> int:
        """The call with every answer; its id."""
        at = self.clock.moment(self.job["called_at"])
        desk = self.cast.dispatcher
        call = take_call(key=key_for(self.key, "call"), actor=desk, now=at, area_id=self.cast.area_id)
        rooms = rooms_of(self.told["rooms"], self.told["wall_runs"])
        for field, value in (*answers_of(self.job, self.told["contacts"]), ("rooms", rooms)):
            answer_call(
                key=key_for(self.key, f"answer {field}"),
                actor=desk,
                now=at,
                call_id=call.call_id,
                field=field,
                value=value,
                seen=0,
            )
        return call.call_id

    def open(self, call_id: int) -> int:
        """The job with its people and materials; its id."""
        at, desk = self.clock.moment(self.job["called_at"]) + TALK, self.cast.dispatcher
        opened = open_job(call_id=call_id, actor=desk, now=at)
        end_call(
            key=key_for(self.key, "end call"),
            actor=desk,
            now=at,
            call_id=call_id,
            ended_as="sent",
            job_id=opened.job_id,
        )
        self._add_people(opened.job_id)
        self._add_materials(opened.job_id)
        if self.job["authorized_at"]:
            lead = self.cast.users[self.job["first_lead"]]
            signed = self.clock.moment(self.job["authorized_at"])
            authorize_job(key=key_for(self.key, "authorize"), actor=lead, now=signed, job_id=opened.job_id)
        return opened.job_id

    def live(self, job_id: int) -> None:
        """Every visit up to the moment of loading, and those that are due after it."""
        hours: dict[str, float] = {}
        for row in self.told["meter_readings"]:
            hours.setdefault(row["unit"], float(row["hours"]))
        moves = Moves(
            key=self.key,
            clock=self.clock,
            stock=self.stock,
            job_id=job_id,
            warehouse=self.job["warehouse"],
            units=self.told["placements"],
            hours=hours,
        )
        visits = [row for row in self.told["visits"] if row["purpose"] != "refuel"]
        done = [row for row in visits if self._is_over(row)]
        ids = {visits[0]["visit"]: self._add(job_id, visits[0], self.clock.moment(self.job["called_at"]) + TALK)}
        for position, row in enumerate(visits):
            following = visits[position + 1] if position + 1 < len(visits) else None
            if row["state"] == "missed" and following is not None:
                ids[following["visit"]] = self._miss(ids[row["visit"]], row, following)
            elif row in done:
                until = self._begins(following) if following else datetime.max.replace(tzinfo=self.clock.zone)
                self._visit(job_id, ids[row["visit"]], row, moves, until)
                if following is not None:
                    ids[following["visit"]] = self._add(job_id, following, self._begins(row))
                self._finish(ids[row["visit"]], row)
            elif following is not None:
                ids[following["visit"]] = self._add(job_id, following, self.clock.now)
        for row in self.told["visits"]:
            if row["purpose"] == "refuel":
                self._refuel(job_id, row)
        self._end(job_id, moves)

    def _visit(self, job_id: int, visit_id: int, row: Row, moves: Moves, until: datetime) -> None:
        lead, arrived = self._lead(row), self._begins(row)
        leave_for_stop(
            key=key_for(self.key, f"leave {row['visit']}"), actor=lead, now=arrived - DRIVE, visit_id=visit_id
        )
        arrive_at_stop(key=key_for(self.key, f"arrive {row['visit']}"), actor=lead, now=arrived, visit_id=visit_id)
        moves.bring(after=arrived, until=until, lead=lead, keeper=self.cast.keeper)
        self._read(job_id, visit_id, row, lead)
        if row["purpose"] == "pick up":
            moves.take_back(at=self._ends(row), lead=lead, keeper=self.cast.keeper)

    def _read(self, job_id: int, visit_id: int, row: Row, lead: User) -> None:
        if row["visit"] == "1":
            self._mark_points(job_id, row, lead)
        air = [reading for reading in self.told["air_readings"] if reading["visit"] == row["visit"]]
        materials = [reading for reading in self.told["material_readings"] if reading["visit"] == row["visit"]]
        if not air and not materials:
            return
        at = self.clock.moment((air or materials)[0]["at"])
        record_readings(
            key=key_for(self.key, f"readings {row['visit']}"),
            actor=lead,
            now=at,
            job_id=job_id,
            visit_id=visit_id,
            air=tuple(_air(reading) for reading in air),
            materials=tuple(MaterialValue(int(r["point"]), float(r["reading"])) for r in materials),
            confirmed=True,
        )

    def _mark_points(self, job_id: int, row: Row, lead: User) -> None:
        for point in self.told["material_points"]:
            add_point(
                key=key_for(self.key, f"point {point['point']}"),
                actor=lead,
                now=self._begins(row) + TALK,
                job_id=job_id,
                number=int(point["point"]),
                room_name=point["room"],
                material=point["material"],
                meter=point["meter"],
                scale=point["scale"],
                dry_standard=float(point["dry_standard"]),
                goal=float(point["goal"]),
            )

    def _finish(self, visit_id: int, row: Row) -> None:
        finish_stop(
            key=key_for(self.key, f"finish {row['visit']}"),
            actor=self._lead(row),
            now=self._ends(row),
            visit_id=visit_id,
            note=row["note"],
        )

    def _miss(self, visit_id: int, row: Row, following: Row) -> int:
        reason, _, told = row["note"].partition(";")
        return miss_visit(
            key=key_for(self.key, f"miss {row['visit']}"),
            actor=self.cast.dispatcher,
            now=self.clock.at(row["day"], row["window_until"]),
            visit_id=visit_id,
            reason=reason,
            told=told.strip(),
            new_time=self._begins(following),
        ).next_visit_id

    def _add(self, job_id: int, row: Row, at: datetime) -> int:
        promised = self.clock.moment(row["promised_at"]) if row["promised_at"] else at
        begins = self.clock.at(row["day"], row["window_from"])
        return add_visit(
            key=key_for(self.key, f"visit {row['visit']}"),
            actor=self.cast.dispatcher,
            now=min(promised, self.clock.now),
            job_id=job_id,
            kind=KINDS[row["purpose"]],
            due_on=self.clock.day(row["day"]),
            window_from=begins,
            window_until=max(begins, self.clock.at(row["day"], row["window_until"])),
            needs=self._needs(row),
            note=row["note"] if row["state"] == "due" else "",
        ).visit_id

    def _needs(self, row: Row) -> dict[str, Any]:
        needs: dict[str, Any] = {"skills": ["water"]}
        if row["purpose"] == "pick up":
            numbers = [placed["unit"] for placed in self.told["placements"]]
            kinds = Unit.objects.filter(number__in=numbers).values_list("model__kind", flat=True)
            needs["collect"] = dict(Counter(kinds))
        return needs

    def _refuel(self, job_id: int, row: Row) -> None:
        # The generator has seen to one already.
        due = Visit.objects.filter(job_id=job_id, kind=Visit.Kind.REFUEL, state=Visit.State.DUE).first()
        visit_id = self._add(job_id, row, self.clock.now) if due is None else due.pk
        if self._is_over(row):
            lead = self._lead(row)
            arrive_at_stop(
                key=key_for(self.key, f"arrive {row['visit']}"), actor=lead, now=self._begins(row), visit_id=visit_id
            )
            self._finish(visit_id, row)

    def _end(self, job_id: int, moves: Moves) -> None:
        finished = self.job["finished_at"]
        if finished and all(row["removed_at"] for row in moves.units):
            at = self.clock.moment(finished) + timedelta(hours=6)
            close_job(key=key_for(self.key, "close"), actor=self.cast.dispatcher, now=at, job_id=job_id)

    def _add_people(self, job_id: int) -> None:
        Contact.objects.bulk_create(
            Contact(
                job_id=job_id,
                role=person["role"],
                name=person["name"],
                phone=person["phone"],
                lets_in=person["lets_us_in"] == "yes",
                can_sign=person["may_sign"] == "yes",
            )
            for person in self.told["contacts"]
            # Who called, and who lets us in, the call has named already.
            if person["called"] != "yes" and person["lets_us_in"] != "yes"
        )

    def _add_materials(self, job_id: int) -> None:
        """What the crew saw: every wet material, and the wall runs as they are."""
        materials, runs = _by_room(self.told["room_materials"]), _by_room(self.told["wall_runs"])
        rooms = list(Room.objects.filter(chamber__job_id=job_id))
        for room in rooms:
            room.measures["materials"] = [
                {"material": row["material"], "area_sqft": float(row["area_sqft"]), "covering": row["covering"]}
                for row in materials[room.name]
            ]
            room.measures["wall_runs"] = [_run(row) for row in runs[room.name]]
        Room.objects.bulk_update(rooms, ["measures"])

    def _is_over(self, row: Row) -> bool:
        return bool(row["arrived"]) and self._ends(row) <= self.clock.now

    def _begins(self, row: Row) -> datetime:
        return self.clock.at(row["day"], row["arrived"] or row["window_from"])

    def _ends(self, row: Row) -> datetime:
        return self.clock.at(row["day"], row["left"])

    def _lead(self, row: Row) -> User:
        return self.cast.users[row["lead"] or self.job["first_lead"]]


def _air(row: Row) -> AirValue:
    return AirValue(
        where="outlet" if row["where"] == "dehumidifier outlet" else row["where"],
        dry_bulb_f=float(row["dry_bulb_f"]),
        rh_pct=float(row["rh_pct"]),
        chamber=row["chamber"],
        unit_number=row["unit"],
    )


def _run(row: Row) -> dict[str, Any]:
    return {
        "length_ft": float(row["length_ft"]),
        "stud_spacing_in": float(row["stud_spacing_in"]),
        **{name: row[name] == "yes" for name in ("insulation_wet", "vapor_barrier", "fire_rated")},
    }


def _by_room(rows: Sequence[Row]) -> dict[str, list[Row]]:
    found: dict[str, list[Row]] = defaultdict(list)
    for row in rows:
        found[row["room"]].append(row)
    return found
