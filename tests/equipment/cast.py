"""A small cast for the tests of equipment: two warehouses, two vans, two models, a few people, a job or two."""

import itertools
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

from django.contrib.auth.models import User

from equipment import opening, places
from equipment.models import EquipmentModel, Pool, UnitNow, Vehicle, Warehouse
from jobs import access
from jobs.models import Area, Job, Membership

NIGHT = datetime(2026, 1, 16, 6, 47, tzinfo=UTC)  # 22:47 in Vancouver
HOUR = timedelta(hours=1)
DAY = timedelta(days=1)


@dataclass
class Cast:
    """Everybody and everything; `model` maps code to row."""

    area: Area
    north: Warehouse
    south: Warehouse
    van: Vehicle
    other_van: Vehicle
    mover: EquipmentModel
    dehumidifier: EquipmentModel
    people: dict[str, User]
    _jobs: Any

    @property
    def keeper(self) -> User:
        return self.people[access.WAREHOUSE]

    @property
    def lead(self) -> User:
        return self.people[access.CREW_LEAD]

    @property
    def dispatcher(self) -> User:
        return self.people[access.DISPATCHER]

    @property
    def manager(self) -> User:
        return self.people[access.MANAGER]

    def job(self, **facts: Any) -> Job:
        number = next(self._jobs)
        values: dict[str, Any] = {
            "area": self.area,
            "number": f"J-{number}",
            "opened_at": NIGHT,
            "street": f"{number} Levee Row",
            "town": "Vancouver",
            "state": "WA",
            "time_zone": "America/Los_Angeles",
            "lat": 45.63,
            "lon": -122.65,
            "category": 1,
        }
        return Job.objects.create(**{**values, **facts})

    def units(self, *numbers: str, model: EquipmentModel | None = None, at: Any = None, **how: Any) -> tuple[str, ...]:
        """Enter units, ready at the north warehouse unless said otherwise."""
        place = at or self.north
        kind = {Warehouse: "warehouse", Vehicle: "vehicle", Job: "job"}[type(place)]
        entries = tuple(
            opening.Opening(
                number=number,
                model_code=(model or self.mover).code,
                holder=kind,
                place_id=place.pk,
                **{"since": NIGHT - DAY, **how},
            )
            for number in numbers
        )
        opening.enter_units(key=uuid4(), actor=self.manager, now=NIGHT, area_id=self.area.pk, entries=entries)
        return numbers

    def pool(self, model: EquipmentModel | None = None, at: Any = None) -> Pool:
        place = at or self.north
        holder = (
            places.holder_for_warehouse(place.pk)
            if isinstance(place, Warehouse)
            else places.holder_for_vehicle(place.pk)
        )
        return places.pool_for(model_id=(model or self.mover).pk, place=holder)

    def now(self, number: str) -> UnitNow:
        return UnitNow.objects.select_related("holder", "pool", "reservation").get(unit__number=number)

    def by(self, who: User, at: datetime = NIGHT, key: UUID | None = None) -> dict[str, Any]:
        """The three arguments of every use case."""
        return {"key": key or uuid4(), "actor": who, "now": at}


def make() -> Cast:
    """The cast, in the database."""
    area = Area.objects.create(code="river", name="River")
    people = {}
    for role in (access.DISPATCHER, access.WAREHOUSE, access.CREW_LEAD, access.MANAGER):
        people[role] = User.objects.create(username=role)
        Membership.objects.create(user=people[role], area=area, role=role)
    warehouses = [
        Warehouse.objects.create(
            area=area,
            code=code,
            name=name,
            street="1 Dock",
            town=town,
            state=state,
            zip_code="98661",
            lat=lat,
            lon=-122.6,
        )
        for code, name, town, state, lat in (
            ("north", "North warehouse", "Vancouver", "WA", 45.64),
            ("south", "South warehouse", "Clackamas", "OR", 45.42),
        )
    ]
    vans = [
        Vehicle.objects.create(
            area=area,
            code=f"V{n}",
            name=f"Van {n}",
            kind="van",
            home=warehouses[0],
            gvwr_lb=9000,
            payload_lb=3000,
            cargo_cuft=300,
        )
        for n in (1, 2)
    ]
    mover, dehumidifier = (
        EquipmentModel.objects.create(code=code, name=name, kind=kind, running_a=amps, volume_cuft=2, weight_lb=20)
        for code, name, kind, amps in (
            ("AM", "Air mover", "air_mover", 2),
            ("LGR", "Low-grain dehumidifier", "lgr", 7),
        )
    )
    return Cast(area, *warehouses, *vans, mover, dehumidifier, people, itertools.count(1001))
