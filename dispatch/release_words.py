"""Who is told what when a lead is released: the customers whose time changed, and the lead."""

from dataclasses import dataclass, replace
from datetime import datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from dispatch import notify
from dispatch.models import Person
from jobs.models import Contact, Visit
from jobs.use_case import key_for


@dataclass(frozen=True)
class GivenStop:
    """
    A stop that went to another crew, or stayed with nobody (`crew_id` None, with `why`).

    `contact_id` is whom to tell when the start moved; without a `notice_id` somebody has to call.
    """

    visit_id: int
    job_id: int
    job_number: str
    crew_id: int | None
    was: datetime
    starts_at: datetime | None
    contact_id: int | None = None
    notice_id: int | None = None
    why: str = ""

    @property
    def moved(self) -> bool:
        return self.was != self.starts_at


def tell_customer(key: UUID, row: GivenStop, *, now: datetime) -> GivenStop:
    """Write the notice of a new time to who lets the crew in, else the first with a number; none where it is kept."""
    if not row.moved:
        return row
    visit = Visit.objects.select_related("job__area").get(pk=row.visit_id)
    area, zone = visit.job.area, ZoneInfo(visit.job.time_zone)
    contacts = Contact.objects.filter(job_id=row.job_id).order_by("-lets_in", "pk")
    contact = next((each for each in contacts if each.phone or each.email), None)
    if contact is None or row.starts_at is None:
        # A time that nobody knows yet is told by a person, not by a message.
        return replace(row, contact_id=None if contact is None else contact.pk)
    there = row.starts_at.astimezone(zone)
    notice = notify.write(
        key=key_for(key, f"new time {row.visit_id}"),
        area_id=visit.job.area_id,
        contact=contact,
        visit=visit,
        text=f"Another drying crew comes to you. New arrival: about {there:%a %-I:%M %p %Z}."
        + (f" Questions: {area.phone}." if area.phone else ""),
        now=now,
    )
    return replace(row, contact_id=contact.pk, notice_id=notice.pk)


def tell_lead(key: UUID, person: Person, *, until: datetime, stops: int, now: datetime) -> None:
    """The lead reads what it means for them."""
    local = until.astimezone(person.area.zone)
    taken = "Your stop goes to another crew." if stops == 1 else f"Your {stops} stops go to other crews."
    notify.write(
        key=key_for(key, "released"),
        area_id=person.area_id,
        person=person,
        text=f"You are released until {local:%a %-I:%M %p}: rest, and do not drive tired. " + (taken if stops else ""),
        now=now,
    )
