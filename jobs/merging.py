"""
The part of joining two open jobs of one loss that lies in these tables, and of taking them apart again.

Nobody but `dispatch.merging` calls it, in one transaction: what stands at a job and who was sent there is known only
above. What was written once (readings, promises, the journal) stays with the job that it was written for; the entry
`job_joined` says what went over, so that splitting gives back just that.
"""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.contrib.auth.models import User

from jobs import journal
from jobs.models import Call, Chamber, Contact, Job, JournalEntry, PrivateFacts, Room, Visit
from jobs.refusals import Refusal, Unusable
from jobs.visits import locked_job

FIRST = (Visit.Kind.EMERGENCY, Visit.Kind.FIRST)
# What one job may know and the other not; access and care go over apart.
FACTS = ("payer_id", "claim_number", "referred_by", "water_source", "building", "year_built", "began_at", "language")
PRIVATE = ("access", "care")
UNKNOWN = {"running": Job.Running.UNKNOWN, "power": Job.Power.UNKNOWN}


class NotMerged(Refusal):
    """The job was not joined to another one, so there is nothing to take apart."""

    code = "job_not_joined"


class JobsApart(Refusal):
    """The two jobs cannot become one: they lie in different areas, or others were joined to the one that would end."""

    code = "jobs_apart"


@dataclass
class Taken:
    """What went over from the joined job, by ids, as its journal entry keeps it."""

    contacts: list[int]
    calls: list[int]
    rooms: list[tuple[int, int, str]]
    chambers: list[int]
    visits: list[int]
    canceled: list[int]
    filled: list[str]
    hazards: list[str]
    private: list[str]
    circuits: bool
    category: int | None
    stage: str
    into_stage: str


def lock_both(job_id: int, into_job_id: int) -> tuple[Job, Job]:
    """
    Both jobs, locked in key order.

    :raises Unusable: if they are one and the same.
    :raises JobOver: if one of them is closed.
    :raises JobsApart: if they can never be one.
    """
    if job_id == into_job_id:
        raise Unusable("A job cannot be joined to itself. Name the other job of this loss.", where="into_job_id")
    rows = {pk: locked_job(pk) for pk in sorted((job_id, into_job_id))}
    job, into = rows[job_id], rows[into_job_id]
    if job.area_id != into.area_id:
        raise JobsApart(f"{job.number} and {into.number} belong to different areas. Close one, and call its people.")
    others = ", ".join(job.joined.order_by("pk").values_list("number", flat=True))
    if others:
        raise JobsApart(
            f"{others} was joined to {job.number}. Let {job.number} be the job that stays, or split {others} off first."
        )
    return job, into


def take_over(job: Job, into: Job, *, actor: User, now: datetime, extra: dict[str, Any]) -> Taken:
    """Move everything that is not written once from one locked job to the other, and end the first."""
    taken = Taken([], [], [], [], [], [], [], [], [], False, into.category, str(job.stage), str(into.stage))
    _people(job, into, taken)
    _rooms(job, into, taken)
    _visits(job, into, taken)
    _facts(job, into, taken)
    if taken.visits and into.stage == Job.Stage.WAITING:
        into.stage = job.stage
    into.save()
    job.stage, job.closed_at, job.joined_to = Job.Stage.CLOSED, now, into
    job.save(update_fields=["stage", "closed_at", "joined_to"])
    data = {"into": into.pk, "number": into.number, **vars(taken), **extra}
    journal.note(kind="job_joined", actor=actor, now=now, job=job, data=data)
    journal.note(kind="job_taken_in", actor=actor, now=now, job=into, data={"job": job.pk, "number": job.number})
    return taken


def joined_job(job_id: int) -> tuple[Job, Job, dict[str, Any]]:
    """
    A joined job, the one that it was joined to, both locked, and what went over then.

    :raises NotMerged: if it was not joined.
    :raises JobOver: if the job that went on in its place is closed.
    """
    other = Job.objects.filter(pk=job_id).values_list("joined_to_id", flat=True).first()
    rows = {pk: locked_job(pk, open_only=False) for pk in sorted({job_id, other or job_id})}
    job = rows[job_id]
    if job.joined_to is None or other is None:
        raise NotMerged(f"{job.number} was not joined to another job. Open the job that was, and split it there.")
    into = locked_job(other)
    entry = JournalEntry.objects.filter(job=job, kind="job_joined").order_by("-pk").first()
    if entry is None:
        raise TypeError("a joined job has the entry that says so")
    return job, into, entry.data


def give_back(job: Job, into: Job, data: dict[str, Any], *, actor: User, now: datetime, today: date) -> list[int]:
    """Undo `take_over`: what went over and was not worked on since goes back; the visits that did."""
    Contact.objects.filter(pk__in=data["contacts"], job=into).update(job=job)
    Call.objects.filter(pk__in=data["calls"], job=into).update(job=job)
    for room_id, chamber_id, name in data["rooms"]:
        Room.objects.filter(pk=room_id, chamber__job=into).update(chamber_id=chamber_id, name=name)
    Chamber.objects.filter(pk__in=data["chambers"], job=into, rooms__isnull=True).delete()
    back = Visit.objects.filter(pk__in=data["visits"], job=into, state=Visit.State.DUE, left_at__isnull=True)
    visits = list(back.values_list("pk", flat=True))
    Visit.objects.filter(pk__in=visits).update(job=job)
    again = Visit.objects.filter(pk__in=data["canceled"], job=job, state=Visit.State.CANCELED)
    for visit in again:
        visit.state, visit.due_on, visit.reason = Visit.State.DUE, max(visit.due_on, today), ""
        visit.save(update_fields=["state", "due_on", "reason"])
        visits.append(visit.pk)
    _facts_back(job, into, data)
    into.save()
    job.closed_at, job.joined_to = None, None
    job.stage = Job.Stage(data["stage"]) if set(visits) & set(data["visits"]) else Job.Stage.WAITING
    job.save(update_fields=["stage", "closed_at", "joined_to"])
    for row, other in ((job, into), (into, job)):
        journal.note(kind="jobs_split", actor=actor, now=now, job=row, data={"other": other.pk, "number": other.number})
    return visits


def _people(job: Job, into: Job, taken: Taken) -> None:
    there = set(into.contacts.exclude(phone="").values_list("phone", flat=True))
    for contact in job.contacts.order_by("pk"):
        # One and the same person is not called twice; the row stays with its job, for when they are split.
        if not contact.phone or contact.phone not in there:
            taken.contacts.append(contact.pk)
    Contact.objects.filter(pk__in=taken.contacts).update(job=into)
    taken.calls = list(job.calls.order_by("pk").values_list("pk", flat=True))
    job.calls.update(job=into)
    told = PrivateFacts.objects.filter(job=job).first()
    if told is not None:
        kept, _ = PrivateFacts.objects.get_or_create(job=into)
        for name in PRIVATE:
            text, more = getattr(kept, name), getattr(told, name)
            if more and more != text and not text.endswith(f"\n{more}"):
                setattr(kept, name, f"{text}\n{more}" if text else more)
                taken.private.append(name)
        kept.save(update_fields=PRIVATE)


def _rooms(job: Job, into: Job, taken: Taken) -> None:
    """Rooms of another unit are other rooms, whatever they are called; in the same unit, a name is a room."""
    names = {name.casefold() for name in Room.objects.filter(chamber__job=into).values_list("name", flat=True)}
    apart = job.unit.casefold() != into.unit.casefold() or job.street.casefold() != into.street.casefold()
    label = f"unit {job.unit}" if job.unit and job.unit.casefold() != into.unit.casefold() else job.number
    chambers = {chamber.name: chamber for chamber in into.chambers.all()}
    for room in Room.objects.filter(chamber__job=job).select_related("chamber").order_by("chamber_id", "position"):
        name = room.name
        if name.casefold() in names:
            if not apart:
                continue
            name = f"{room.name[:38]} ({label})"
        old = room.chamber
        if old.name not in chambers:
            kinds = {key: getattr(old, key) for key in ("dehumidifier", "class_set", "bound_water", "crawl_space")}
            chambers[old.name] = Chamber.objects.create(job=into, name=old.name, **kinds)
            taken.chambers.append(chambers[old.name].pk)
        taken.rooms.append((room.pk, old.pk, room.name))
        names.add(name.casefold())
        room.chamber, room.name = chambers[old.name], name
        room.save(update_fields=["chamber", "name"])


def _visits(job: Job, into: Job, taken: Taken) -> None:
    """What is due goes over; a first visit is not needed where a crew is due, or was already."""
    been = into.visits.filter(arrived_at__isnull=False).exists()
    firsts = been or into.visits.filter(state=Visit.State.DUE, kind__in=FIRST).exists()
    theirs = set(into.visits.filter(state__in=(Visit.State.DUE, Visit.State.UNDER_WAY)).values_list("kind", "due_on"))
    for visit in job.visits.filter(state=Visit.State.DUE).order_by("pk"):
        if (visit.kind in FIRST and firsts) or (visit.kind, visit.due_on) in theirs:
            visit.state, visit.reason = Visit.State.CANCELED, f"joined to {into.number}"
            visit.save(update_fields=["state", "reason"])
            taken.canceled.append(visit.pk)
        else:
            visit.job = into
            visit.save(update_fields=["job"])
            taken.visits.append(visit.pk)


def _facts(job: Job, into: Job, taken: Taken) -> None:
    for name in FACTS:
        if getattr(into, name) in (None, "") and getattr(job, name) not in (None, ""):
            setattr(into, name, getattr(job, name))
            taken.filled.append(name)
    for name, unknown in UNKNOWN.items():
        if getattr(into, name) == unknown and getattr(job, name) != unknown:
            setattr(into, name, getattr(job, name))
            taken.filled.append(name)
    taken.hazards = [hazard for hazard in job.hazards if hazard not in into.hazards]
    into.hazards = [*into.hazards, *taken.hazards]
    if job.circuits and not into.circuits:
        into.circuits, taken.circuits = job.circuits, True
    # The dirtier water is what whoever goes there must be ready for.
    if job.category is not None and job.category > (into.category or 0):
        into.category = job.category


def _facts_back(job: Job, into: Job, data: dict[str, Any]) -> None:
    for name in data["filled"]:
        if getattr(into, name) == getattr(job, name):
            empty = UNKNOWN.get(name, None if name in ("payer_id", "year_built", "began_at") else "")
            setattr(into, name, empty)
    into.hazards = [hazard for hazard in into.hazards if hazard not in data["hazards"]]
    if data["circuits"] and into.circuits == job.circuits:
        into.circuits = []
    if into.category == job.category:
        into.category = data["category"]
    told = PrivateFacts.objects.filter(job=job).first()
    kept = PrivateFacts.objects.filter(job=into).first()
    if told is not None and kept is not None:
        for name in data["private"]:
            text, part = getattr(kept, name), getattr(told, name)
            setattr(kept, name, "" if text == part else text.removesuffix(f"\n{part}"))
        kept.save(update_fields=PRIVATE)
    if into.stage == Job.Stage.SENT and not into.visits.exclude(state=Visit.State.CANCELED).exists():
        into.stage = Job.Stage(data["into_stage"])
