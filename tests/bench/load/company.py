"""
The companies of the load bench: so many areas, each with its crews on the road, its warehouses and its desk.

    python -m tests.bench.load.company AREAS CREWS SCANNERS DISPATCHERS

prints what the clients need, as JSON; runs in the installation's environment, on an empty database.
"""

import json
import sys
from datetime import date, datetime, time, timedelta
from itertools import count
from typing import Any
from uuid import uuid4

import django

STOPS, UNITS = 5, 24
HOUR = timedelta(hours=1)
ADDRESSES = (("Vancouver", "WA", "98661", 45.63, -122.65), ("Salem", "OR", "97301", 44.94, -123.03))


def main() -> None:
    django.setup()
    areas, crews, scanners, dispatchers = map(int, sys.argv[1:])
    from django.core.management import call_command
    from django.db import connection

    call_command("migrate", interactive=False, verbosity=0)
    told = [Area(n).fill(crews, scanners, dispatchers) for n in range(areas)]
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    print(json.dumps(told))


class Area:
    """One service area in the database."""

    def __init__(self, n: int) -> None:
        from django.utils import timezone

        from dispatch.models import FirmLicense
        from equipment.models import EquipmentModel, Warehouse
        from jobs.models import Area as Row
        from jobs.people import system_user

        system_user()
        self.n, self.now = n, timezone.now()
        self.town, self.state, self.zip_code, self.lat, self.lon = ADDRESSES[n % 2]
        self.row = Row.objects.create(code=f"area-{n}", name=f"Area {n}")
        FirmLicense.objects.bulk_create(
            FirmLicense(area=self.row, kind="contractor", state=state) for state in ("OR", "WA")
        )
        self.house = Warehouse.objects.create(
            area=self.row, code=f"house-{n}", name=f"Warehouse {n}", street="1 Dock", town=self.town,
            state=self.state, zip_code=self.zip_code, lat=self.lat, lon=self.lon,
        )  # fmt: skip
        self.mover, _ = EquipmentModel.objects.get_or_create(
            code="AM", defaults={"name": "Air mover", "kind": "air_mover", "running_a": 2, "volume_cuft": 3,
                                 "weight_lb": 25, "airflow_cfm": 900},
        )  # fmt: skip
        self.today: date = self.now.astimezone(self.row.zone).date()
        self.numbers = count(1)

    def fill(self, crews: int, scanners: int, dispatchers: int) -> dict[str, Any]:
        """So many people of each kind, with their day's work; what their clients need."""
        manager = self._person("manager", 0)
        phones = [self._crew(n) for n in range(crews)]
        self._loose_jobs(crews)
        scans = [self._scanner(n, manager) for n in range(scanners)]
        return {
            "area_id": self.row.pk,
            "area_code": self.row.code,
            "warehouse_code": self.house.code,
            "warehouse_id": self.house.pk,
            "tomorrow": (self.today + timedelta(days=1)).isoformat(),
            "phones": phones,
            "scanners": scans,
            "dispatchers": [self._session(self._person("dispatcher", n)) for n in range(dispatchers)],
        }

    def _person(self, role: str, n: int) -> Any:
        from django.contrib.auth.models import User

        from jobs.models import Membership

        user = User.objects.create(username=f"{role}-{self.n}-{n}")
        Membership.objects.create(user=user, area=self.row, role=role)
        return user

    def _session(self, user: Any) -> str:
        from django.test import Client

        client = Client()
        client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
        return str(client.cookies["sessionid"].value)

    def _vehicle(self, code: str) -> Any:
        from equipment import places
        from equipment.models import Vehicle

        van = Vehicle.objects.create(
            area=self.row, code=code, name=f"Van {code}", kind="van", home=self.house, gvwr_lb=9000,
            payload_lb=3000, cargo_cuft=300, capacity={"air_mover": 16, "lgr": 3, "volume_cuft": 180},
        )  # fmt: skip
        places.holder_for_vehicle(van.pk)
        return van

    def _crew(self, n: int) -> dict[str, Any]:
        """A crew with today's route, and the same crew tomorrow without one."""
        from dispatch.models import Card, Crew, Person

        user = self._person("crew_lead", n)
        lead = Person.objects.create(
            user=user, area=self.row, name=f"Lead {self.n}-{n}", phone="360-555-0101", home=self.house, can_lead=True
        )
        Card.objects.create(person=lead, kind="water_technician", expires_on=self.today + timedelta(days=200))
        van = self._vehicle(f"C{self.n}-{n}")
        common = {"area": self.row, "name": f"C{n}", "lead": lead, "vehicle": van, "start": self.house,
                  "end": self.house}  # fmt: skip
        today = Crew.objects.create(
            **common, service_day=self.today, starts_at=self.now - HOUR, ends_at=self.now + 8 * HOUR,
            at_latest=self.now + 10 * HOUR,
        )  # fmt: skip
        morning = datetime.combine(self.today + timedelta(days=1), time(7), tzinfo=self.row.zone)
        Crew.objects.create(
            **common, service_day=self.today + timedelta(days=1), starts_at=morning, ends_at=morning + 9 * HOUR,
            at_latest=morning + 11 * HOUR,
        )  # fmt: skip
        return {"session": self._session(user), "visits": [self._stop(today, at) for at in range(1, STOPS + 1)]}

    def _job(self) -> Any:
        from jobs.models import Contact, Job

        n = next(self.numbers)
        job = Job.objects.create(
            area=self.row, number=f"L{self.n}-{n}", opened_at=self.now - 2 * HOUR, street=f"{n} Levee Row",
            town=self.town, state=self.state, time_zone="America/Los_Angeles", category=1, stage=Job.Stage.DRYING,
            lat=self.lat + n % 20 / 100, lon=self.lon - n // 20 % 20 / 100,
        )  # fmt: skip
        Contact.objects.create(job=job, role="owner", phone="360-555-0123")
        return job

    def _visit(self, due_on: date) -> Any:
        from jobs.models import Visit

        return Visit.objects.create(
            job=self._job(), kind=Visit.Kind.MONITORING, due_on=due_on, service_s=2400, needs={"skills": ["water"]}
        )

    def _stop(self, crew: Any, position: int) -> int:
        from dispatch.models import Stop
        from jobs import clocks

        visit, at = self._visit(self.today), self.now + position * HOUR
        clocks.begin_of_visit(visit, now=self.now)
        leave_at = at + timedelta(seconds=visit.service_s)
        Stop.objects.create(crew=crew, visit=visit, position=position, arrive_at=at, start_at=at, leave_at=leave_at)
        return int(visit.pk)

    def _loose_jobs(self, crews: int) -> None:
        """What tomorrow's plan places besides the jobs on today's routes."""
        for _ in range(crews):
            self._visit(self.today + timedelta(days=1))

    def _scanner(self, n: int, manager: Any) -> dict[str, Any]:
        from equipment import opening

        numbers = [str(10_000 + 1_000 * self.n + 100 * n + k) for k in range(UNITS)]
        entries = tuple(
            opening.Opening(number=number, model_code=self.mover.code, holder="warehouse", place_id=self.house.pk,
                            since=self.now - 24 * HOUR)
            for number in numbers
        )  # fmt: skip
        opening.enter_units(key=uuid4(), actor=manager, now=self.now, area_id=self.row.pk, entries=entries)
        van = self._vehicle(f"S{self.n}-{n}")
        session = self._session(self._person("warehouse", n))
        return {"session": session, "vehicle_id": van.pk, "numbers": numbers}


if __name__ == "__main__":
    main()
