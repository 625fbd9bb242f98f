"""A busy night on top of the small one: many open jobs with their visits, callers who wait, crews with routes."""

from datetime import timedelta

from django.contrib.auth.models import User

from dispatch.models import Card, Crew, Person, Stop
from equipment import places
from equipment.models import Vehicle
from jobs import clocks
from jobs.models import Call, Contact, Job, Membership, Visit
from tests.dispatch.night import CAPACITY, NIGHT, TONIGHT, Night

HOUR = timedelta(hours=1)


def one_more_call(night: Night) -> int:
    """A call with enough to send, to ask for its offers."""
    return night.call()


def fill(night: Night, *, jobs: int, calls: int, crews: int, at_a_stop_each: int = 5) -> None:
    """So many more of each: every job has a visit due today, a share of them on the crews' routes."""
    visits = _jobs(night, jobs)
    rows = _crews(night, crews)
    stops = []
    for number, crew in enumerate(rows):
        for position, visit in enumerate(visits[number * at_a_stop_each : (number + 1) * at_a_stop_each], start=1):
            at = NIGHT + position * HOUR
            leave = at + timedelta(seconds=visit.service_s)
            stops.append(Stop(crew=crew, visit=visit, position=position, arrive_at=at, start_at=at, leave_at=leave))
    Stop.objects.bulk_create(stops)
    callers(night, calls)


def callers(night: Night, count: int) -> None:
    """So many who wait and of whom only number and town are known."""
    for number in range(count):
        started = NIGHT - timedelta(minutes=number)
        call = Call.objects.create(
            area=night.cast.area,
            started_at=started,
            touched_at=started,
            taken_by=night.dispatcher,
            owner=night.dispatcher,
            answers={"callback_number": f"360-555-{1000 + number}", "town": "Vancouver", "state": "WA"},
            next_contact_at=started + timedelta(minutes=15),
        )
        clocks.begin_call_back(call, now=started)


def _jobs(night: Night, count: int) -> list[Visit]:
    made = [night.cast.job(lat=45.5 + number % 20 / 100, lon=-122.7 + number // 20 / 100) for number in range(count)]
    Job.objects.filter(pk__in=[job.pk for job in made]).update(stage=Job.Stage.DRYING)
    Contact.objects.bulk_create(Contact(job=job, role="owner", phone="360-555-0123") for job in made)
    visits = Visit.objects.bulk_create(
        Visit(job=job, kind=Visit.Kind.MONITORING, due_on=TONIGHT, service_s=2400, needs={"skills": ["water"]})
        for job in made
    )
    for visit in visits:
        clocks.begin_of_visit(visit, now=NIGHT)
    return visits


def _crews(night: Night, count: int) -> list[Crew]:
    rows = []
    there = Crew.objects.count()
    for number in range(there, there + count):
        user = User.objects.create(username=f"lead{number}")
        Membership.objects.create(user=user, area=night.cast.area, role="crew_lead")
        lead = Person.objects.create(
            user=user,
            area=night.cast.area,
            name=f"Lead {number}",
            phone="360-555-0101",
            home=night.cast.north,
            can_lead=True,
        )
        Card.objects.create(person=lead, kind="water_technician", expires_on=TONIGHT + timedelta(days=200))
        van = Vehicle.objects.create(
            area=night.cast.area,
            code=f"B{number:02}",
            name=f"Van B{number:02}",
            kind="van",
            home=night.cast.north if number % 2 else night.cast.south,
            gvwr_lb=9000,
            payload_lb=3000,
            cargo_cuft=300,
            capacity=CAPACITY,
        )
        places.holder_for_vehicle(van.pk)
        rows.append(
            Crew.objects.create(
                area=night.cast.area,
                service_day=TONIGHT,
                name=f"B{number:02}",
                lead=lead,
                vehicle=van,
                start=van.home,
                end=van.home,
                starts_at=NIGHT - HOUR,
                ends_at=NIGHT + 8 * HOUR,
                at_latest=NIGHT + 10 * HOUR,
            )
        )
    return rows
