"""A small night for the tests of dispatch: the equipment cast, three crews on call, and a call that says enough."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.contrib.auth.models import User

from dispatch.models import CallOutOrder, Card, Crew, FirmLicense, Person
from equipment.models import Vehicle
from jobs import access, intake
from jobs.models import Job, Membership, Visit
from tests.equipment.cast import NIGHT, Cast, make

TONIGHT = date(2026, 1, 15)
CAPACITY = {"air_mover": 16, "lgr": 3, "volume_cuft": 180}
CALL = {
    "street": "5230 Teasel Field Court",
    "zip_code": "98664",
    "water_source": "supply_line",
    "running": "stopped",
    "power": "on",
    "category": "1",
    "room:a:line": "kitchen 12x14 floor 120 walls 60",
    "lets_in": "owner",
    "can_sign": "owner",
}


@dataclass
class Night:
    """The cast, and crews by name: `ready` has equipment aboard, `empty` must fetch, `lapsed` holds no valid card."""

    cast: Cast
    ready: Crew
    empty: Crew
    lapsed: Crew

    def by(self, who: User, at: datetime = NIGHT) -> dict[str, Any]:
        return self.cast.by(who, at)

    @property
    def dispatcher(self) -> User:
        return self.cast.dispatcher

    def call(self, **answers: str) -> int:
        """A call with enough to send, changed by `answers` (room cells with `__` for `:`)."""
        taken = intake.take_call(**self.by(self.dispatcher), area_id=self.cast.area.pk, callback_number="360-555-0199")
        for field, value in {**CALL, **{key.replace("__", ":"): value for key, value in answers.items()}}.items():
            intake.answer_call(**self.by(self.dispatcher), call_id=taken.call_id, field=field, value=value, seen=0)
        return taken.call_id

    def visit(self, job: Job, **facts: Any) -> Visit:
        values: dict[str, Any] = {"kind": Visit.Kind.MONITORING, "due_on": TONIGHT + timedelta(days=1)}
        return Visit.objects.create(job=job, **{"service_s": 2400, "needs": {"skills": ["water"]}, **values, **facts})


def night() -> Night:
    """The night, in the database."""
    cast = make()
    FirmLicense.objects.bulk_create(
        FirmLicense(area=cast.area, kind="contractor", state=state) for state in ("OR", "WA")
    )
    third = Vehicle.objects.create(
        area=cast.area,
        code="V3",
        name="Van 3",
        kind="van",
        home=cast.south,
        gvwr_lb=9000,
        payload_lb=3000,
        cargo_cuft=300,
    )
    Vehicle.objects.update(capacity=CAPACITY)
    for vehicle in (cast.van, cast.other_van, third):
        vehicle.refresh_from_db()
    cast.mover.airflow_cfm = 900
    cast.mover.save()
    cast.dehumidifier.rated_pints_per_day = 130
    cast.dehumidifier.save()
    ready = crew(cast, "N1", cast.van, person(cast, "Ada", cast.lead))
    empty = crew(cast, "N2", cast.other_van, person(cast, "Ben"))
    lapsed = crew(cast, "N3", third, person(cast, "Cas", expires=TONIGHT - timedelta(days=1)))
    for position, row in enumerate((ready, empty, lapsed), start=1):
        CallOutOrder.objects.create(area=cast.area, night_of=TONIGHT, position=position, person=row.lead)
    cast.units(*(f"1{n:03}" for n in range(12)), at=cast.van)
    cast.units("1900", "1901", model=cast.dehumidifier, at=cast.van)
    cast.units(*(f"2{n:03}" for n in range(20)))
    cast.units("2900", "2901", "2902", model=cast.dehumidifier)
    return Night(cast, ready, empty, lapsed)


def person(cast: Cast, name: str, user: User | None = None, *, expires: date | None = None) -> Person:
    """Somebody who can lead, with a water technician's card."""
    if user is None:
        user = User.objects.create(username=name.lower())
        Membership.objects.create(user=user, area=cast.area, role=access.CREW_LEAD)
    row = Person.objects.create(
        user=user, area=cast.area, name=name, phone="360-555-0101", home=cast.north, can_lead=True
    )
    Card.objects.create(person=row, kind="water_technician", expires_on=expires or TONIGHT + timedelta(days=200))
    return row


def crew(cast: Cast, name: str, vehicle: Vehicle, lead: Person, **facts: Any) -> Crew:
    """A night crew that starts and ends at its vehicle's warehouse."""
    values: dict[str, Any] = {
        "starts_at": NIGHT - timedelta(hours=1),
        "ends_at": NIGHT + timedelta(hours=8),
        "at_latest": NIGHT + timedelta(hours=10),
        "service_day": TONIGHT,
        "start": vehicle.home,
        "end": vehicle.home,
    }
    return Crew.objects.create(area=cast.area, name=name, lead=lead, vehicle=vehicle, **{**values, **facts})


def move_to(night: Night, now: datetime) -> None:
    """Let the small night be the one that runs at this moment, for what goes by the real clock."""
    today = now.astimezone(night.cast.area.zone).date()
    for crew in Crew.objects.all():
        crew.starts_at, crew.ends_at = now - timedelta(hours=1), now + timedelta(hours=8)
        crew.at_latest, crew.service_day = now + timedelta(hours=10), today
        crew.save()
    Card.objects.exclude(person=night.lapsed.lead).update(expires_on=today + timedelta(days=200))
    # Until noon the running night is the one that began yesterday.
    CallOutOrder.objects.update(night_of=(now.astimezone(night.cast.area.zone) - timedelta(hours=12)).date())
