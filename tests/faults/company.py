"""
What the installation under fault works with: `fill` writes it and prints what its clients need, `tell` what is there,
`plans` how the plans stand, `photo` keeps one, `late` ends every waiting time. One word each, as a child process of the
installation.
"""

import json
import sys
from collections import Counter
from datetime import timedelta
from typing import Any
from uuid import uuid4

import django

from tests.rooms import crash_night

SHELF = [f"4{n:03}" for n in range(240)]
DRYING = 24
PASSWORD = "teasel-field-court"


def main() -> None:
    django.setup()
    word, *rest = sys.argv[1:]
    print(
        json.dumps({"fill": fill, "tell": tell, "plans": plans, "photo": photo, "late": crash_night.late}[word](*rest))
    )


def fill() -> dict[str, Any]:
    """Two areas: the night's, with drying jobs and crews for tomorrow, and a second one with a day of its own."""
    told = crash_night.fill()
    from django.test import Client
    from django.utils import timezone

    from dispatch.models import Crew, Person
    from equipment.models import Vehicle
    from jobs.models import Area, Job
    from jobs.people import system_user
    from tests.equipment.cast import Cast

    system_user()
    now, area = timezone.now(), Area.objects.get(code="river")
    tomorrow = now.astimezone(area.zone).date() + timedelta(days=1)
    cast = _cast_again(area)
    assert isinstance(cast, Cast)
    cast.units(*SHELF)
    cast._jobs = iter(range(7000, 9000))
    jobs = [_drying(cast, n) for n in range(DRYING)]
    van = Vehicle.objects.get(code="V1")
    other = _second_area(cast, tomorrow)
    for crew in list(Crew.objects.filter(area=area)[:2]):
        _works(crew, tomorrow)
    cast.dispatcher.set_password(PASSWORD)
    cast.dispatcher.save()
    for role in ("crew_lead", "manager"):
        client = Client()
        client.force_login(cast.people[role])
        told["sessions"][role] = client.cookies["sessionid"].value
    # A new password ends the sessions that stood under the old one.
    client = Client()
    client.force_login(cast.dispatcher)
    told["sessions"]["dispatcher"] = client.cookies["sessionid"].value
    return {
        **told,
        "password": PASSWORD,
        "area_code": area.code,
        "other_code": other.code,
        "day": tomorrow.isoformat(),
        "job_id": jobs[0],
        "scan_job_id": jobs[1],
        "shelf": SHELF,
        "shelf_vehicle_id": van.pk,
        "people": Person.objects.count(),
        "open_jobs": list(Job.objects.filter(area=area).values_list("pk", flat=True)),
    }


def _cast_again(area: Any) -> Any:
    from django.contrib.auth.models import User

    from equipment.models import EquipmentModel, Vehicle, Warehouse
    from tests.equipment.cast import Cast

    roles = ("dispatcher", "warehouse", "crew_lead", "manager")
    models = list(EquipmentModel.objects.filter(kind__in=("air_mover", "lgr")).order_by("pk"))
    return Cast(
        area,
        Warehouse.objects.get(code="north"),
        Warehouse.objects.get(code="south"),
        Vehicle.objects.get(code="V1"),
        Vehicle.objects.get(code="V2"),
        models[0],
        models[-1],
        {role: User.objects.get(username=role) for role in roles},
        iter(range(5000, 7000)),
    )


def _drying(cast: Any, n: int, **more: Any) -> int:
    from jobs.models import Job

    job = cast.job(stage=Job.Stage.DRYING, lat=45.50 + n % 6 / 30, lon=-122.70 + n // 6 / 30, **more)
    return int(job.pk)


def _works(crew: Any, day: Any) -> None:
    """The crew works on that day, from eight to six."""
    from datetime import datetime, time

    from dispatch.models import Crew

    begins = datetime.combine(day, time(8), tzinfo=crew.area.zone)
    hour = timedelta(hours=1)
    Crew.objects.create(
        area=crew.area, name=f"{crew.name} by day", lead=crew.lead, vehicle=crew.vehicle, service_day=day,
        start=crew.start, end=crew.end, starts_at=begins, ends_at=begins + 10 * hour, at_latest=begins + 12 * hour,
    )  # fmt: skip


def _second_area(cast: Any, day: Any) -> Any:
    """Another area with a warehouse, one crew and jobs; the same dispatcher works for both."""
    from dispatch.models import Crew
    from equipment import places
    from equipment.models import Vehicle, Warehouse
    from jobs.models import Area, Membership
    from tests.dispatch.night import CAPACITY, person

    area = Area.objects.create(code="hill", name="Hill")
    Membership.objects.create(user=cast.dispatcher, area=area, role="dispatcher")
    house = Warehouse.objects.create(
        area=area, code="hill", name="Hill warehouse", street="2 Dock", town="Salem", state="OR", zip_code="97301",
        lat=44.94, lon=-123.03,
    )  # fmt: skip
    van = Vehicle.objects.create(
        area=area, code="H1", name="Hill van", kind="van", home=house, gvwr_lb=9000, payload_lb=3000, cargo_cuft=300,
        capacity=CAPACITY,
    )  # fmt: skip
    places.holder_for_vehicle(van.pk)
    lead = person(cast, "Hal")
    lead.area, lead.home = area, house
    lead.save()
    lead.user.memberships.update(area=area)
    crew = Crew(area=area, name="H", lead=lead, vehicle=van, start=house, end=house)
    _works(crew, day)
    for n in range(6):
        _drying(cast, n, area=area, town="Salem", state="OR")
    return area


def tell() -> dict[str, Any]:
    """The night's own account, and what the other clients wrote."""
    from dispatch.models import CallOutStep, Notice
    from equipment.models import Move, Reservation
    from jobs.models import AirReading, DueWork

    moved = Move.objects.filter(why="loaded").values_list("unit__number", flat=True)
    paged = Notice.objects.exclude(step=None).exclude(text__startswith="Second try")
    steps = CallOutStep.objects.values_list("call_out_id", "number")
    return {
        **crash_night.tell(),
        "on_shelf_moved": Counter(number for number in moved if number in set(SHELF)),
        "air": Counter(str(value) for value in AirReading.objects.values_list("dry_bulb_f", flat=True)),
        "holds": Counter(at.isoformat() for at in Reservation.objects.values_list("starts_at", flat=True)),
        "steps": sorted(f"{call_out}/{number}" for call_out, number in steps),
        "pages": Counter(f"{n.step.call_out_id}/{n.step.number}" for n in paged.select_related("step")),
        "notices": {str(notice.key): notice.state for notice in Notice.objects.all()},
        "work": Counter(DueWork.objects.values_list("state", flat=True)),
    }


def photo() -> dict[str, str]:
    """One photo of the first drying job: where its file lies below the media, and what is in it."""
    from django.conf import settings
    from django.contrib.auth.models import User
    from django.utils import timezone

    from jobs.models import Job
    from jobs.photos import keep

    content, digest = "a wet wall", "ab" * 32
    path = settings.MEDIA_ROOT / keep.path_of(digest)
    path.parent.mkdir(parents=True)
    path.write_text(content)
    job = Job.objects.filter(stage="drying", area__code="river").earliest("pk")
    actor = User.objects.get(username="dispatcher")
    keep.keep_photo(key=uuid4(), actor=actor, now=timezone.now(), job_id=job.pk, digest=digest, width=4, height=3)
    return {"path": str(keep.path_of(digest)), "content": content}


def plans() -> list[dict[str, Any]]:
    """Every plan with its state, its stops and how often it was tried."""
    from dispatch.models import Plan
    from jobs.models import DueWork

    work = {row.arguments["plan_id"]: row for row in DueWork.objects.filter(kind="dispatch.run_plan")}
    return [
        {
            "id": plan.pk,
            "area": plan.area.code,
            "state": plan.state,
            "failure": plan.failure,
            "stops": plan.stops.count(),
            "work": work[plan.pk].state,
            "attempts": work[plan.pk].attempts,
        }
        for plan in Plan.objects.select_related("area").order_by("pk")
    ]


if __name__ == "__main__":
    main()
