"""
A crew lead's or helper's stops as an iCalendar feed (RFC 5545), and the address under which a calendar may read it.

A calendar program cannot sign in, so its address holds a signed secret. The secret dies with the password: who loses
a phone changes the password. Names, phone numbers and access codes are never in the feed, since it leaves the house.
"""

from datetime import datetime, timedelta

from django.contrib.auth.models import User
from django.core import signing
from icalendar import Calendar, Event, vGeo

from dispatch.models import Person, Stop
from jobs.models import Visit
from jobs.refusals import NotThere

SALT = "dispatch.feeds.calendars"
DAYS_BACK, DAYS_AHEAD = 14, 30
MOST_EVENTS = 500
OVER = (Visit.State.MISSED, Visit.State.CANCELED)


class CalendarNotThere(NotThere):
    """No calendar is at this address; whether it ever was is not said."""

    code = "calendar_not_found"


def secret_of(user: User) -> str:
    """The secret part of the address of this person's calendar."""
    return signing.dumps({"user": user.pk, "while": _while(user)}, salt=SALT)


def person_of(secret: str) -> Person:
    """
    Whose calendar it is.

    :raises CalendarNotThere: if the secret was not made here, or ended with a password or a job here.
    """
    try:
        told = signing.loads(secret, salt=SALT)
    except signing.BadSignature as error:
        raise CalendarNotThere("There is no calendar here. Copy its address anew from your day.") from error
    person = Person.objects.select_related("user").filter(user=told["user"], user__is_active=True, active=True).first()
    if person is None or told["while"] != _while(person.user):
        raise CalendarNotThere("This calendar's address is no longer good. Copy it anew from your day.")
    return person


def calendar_of(person: Person, *, now: datetime) -> bytes:
    """The person's stops from two weeks ago to a month ahead as iCalendar, in UTC (1 query)."""
    calendar = Calendar()
    calendar.add("prodid", "-//Ebbline//Day//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("name", f"Stops of {person.name}")
    calendar.add("refresh-interval", timedelta(minutes=15), parameters={"VALUE": "DURATION"})
    stops = (
        (Stop.objects.filter(crew__lead=person) | Stop.objects.filter(crew__helper=person))
        .filter(start_at__gte=now - timedelta(days=DAYS_BACK), start_at__lt=now + timedelta(days=DAYS_AHEAD))
        .select_related("visit__job", "crew")
        .order_by("start_at", "pk")
    )
    for stop in stops[:MOST_EVENTS]:
        calendar.add_component(_event(stop, now))
    feed: bytes = calendar.to_ical()
    return feed


def _event(stop: Stop, now: datetime) -> Event:
    visit, job = stop.visit, stop.visit.job
    begins = visit.arrived_at or stop.start_at
    event = Event()
    event.add("uid", f"visit-{visit.pk}@ebbline")
    event.add("dtstamp", now)
    event.add("dtstart", begins)
    event.add("dtend", max(visit.finished_at or stop.leave_at, begins))
    event.add("summary", f"{visit.get_kind_display().capitalize()}, {job.number}, {job.town}")
    event.add("location", f"{job.street}{' ' + job.unit if job.unit else ''}, {job.town}, {job.state} {job.zip_code}")
    event.add("geo", vGeo((job.lat, job.lon)))
    event.add("description", f"Crew {stop.crew.name}, stop {stop.position}. {visit.get_state_display().capitalize()}.")
    event.add("status", "CANCELLED" if visit.state in OVER else "CONFIRMED")
    return event


def _while(user: User) -> str:
    return user.get_session_auth_hash()[:16]
