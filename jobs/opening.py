"""Making a job out of a call: part of sending a crew and of booking a visit, in their transaction."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.contrib.auth.models import User
from django.db.models import Q

from jobs import clocks, journal, loss
from jobs.calls.answers import label_of, missing_to_send, place_of
from jobs.intake import CallOver, locked_call
from jobs.models import Area, Call, Chamber, Contact, Job, Payer, PrivateFacts, Room
from jobs.phones import standard
from jobs.places import Place
from jobs.refusals import Refusal
from jobs.use_case import use_case
from jobs.visits import locked_job

FIRST_NUMBER = 1001
# A call that only books a visit needs a way to call back and a place.
# Who rings for somebody else: then the customer has not been spoken to yet, and the payer's clock for it runs.
NOT_THE_CUSTOMER = ("agent", "adjuster")
TO_BOOK = ("callback_number", "street", "state")


class NotEnoughYet(Refusal):
    """Something is still missing without which no crew is sent; all of it is named at once."""

    code = "not_enough_yet"
    status = 422


class AuthorizedBefore(Refusal):
    """The job was already signed for."""

    code = "authorized_before"


@dataclass(frozen=True)
class JobOpened:
    """The job that a call became."""

    job_id: int
    number: str


@dataclass(frozen=True)
class Authorized:
    """Since when a job is signed for, and within which limits."""

    job_id: int
    authorized_at: datetime
    limits: str


def open_job(*, call_id: int, actor: User, now: datetime, to_book: bool = False) -> JobOpened:
    """
    Make the job, its people, private facts, chambers and rooms from what the call says; the caller's transaction.

    A call that already belongs to a job answers with that job. `to_book` asks only for what a booked visit needs.

    :raises NotEnoughYet: naming everything that is missing.
    """
    call = locked_call(call_id)
    if call.job is not None:
        return JobOpened(call.job.pk, call.job.number)
    if call.ended_at is not None:
        raise CallOver("This call has ended without a job. Take a new call.", call=call_id)
    place = enough(call, to_book)
    job = _job(call, place)
    _people(call, job)
    for name, rooms in loss.chambers_of(call).items():
        chamber = Chamber.objects.create(job=job, name=name)
        Room.objects.bulk_create(
            Room(
                chamber=chamber,
                position=position,
                name=room["name"],
                measures={key: value for key, value in room.items() if key != "name"},
            )
            for position, room in enumerate(rooms)
        )
    call.job = job
    call.save(update_fields=["job"])
    if call.answers.get("caller_role") in NOT_THE_CUSTOMER:
        clocks.begin_contact_for_payer(job, call)
    journal.note(kind="job_opened", actor=actor, now=now, job=job, data={"call": call.pk})
    return JobOpened(job.pk, job.number)


@use_case("authorize_job")
def authorize_job(*, key: UUID, actor: User, now: datetime, job_id: int, limits: str = "") -> Authorized:
    """
    Record that the work was signed for, and within which limits, so that the crew sees them.

    :raises AuthorizedBefore: if it already was.
    """
    job = locked_job(job_id)
    if job.authorized_at is not None:
        raise AuthorizedBefore(
            "This job is already signed for. What changes now is the lead's word, with its reason.",
            authorized_at=job.authorized_at.isoformat(),
        )
    authorize_locked(job, at=now, limits=limits.strip()[:300], actor=actor, now=now)
    return Authorized(job.pk, now, job.authorized_limits)


def authorize_locked(job: Job, *, at: datetime, limits: str, actor: User, now: datetime) -> None:
    """Mark a locked job as signed for since `at`; part of keeping the signature."""
    job.authorized_at, job.authorized_limits = at, limits
    job.save(update_fields=["authorized_at", "authorized_limits"])
    journal.note(kind="job_authorized", actor=actor, now=now, job=job, happened_at=at)


def enough(call: Call, to_book: bool = False) -> Place:
    """
    Where the crew is to go, if the call says enough to send one (or to book a visit).

    :raises NotEnoughYet: naming everything that is missing.
    """
    missing = [field for field in missing_to_send(call) if not to_book or field in TO_BOOK]
    if missing:
        raise NotEnoughYet(
            f"Before a {'visit is booked' if to_book else 'crew is sent'}, ask for: "
            f"{', '.join(label_of(field).rstrip('?').lower() for field in missing)}.",
            missing=missing,
        )
    place: Place | None = place_of(call).place
    if place is None:
        raise TypeError("a place that is not missing is known")
    return place


def _job(call: Call, place: Place) -> Job:
    answers, private = call.answers, call.private_answers
    hours = answers.get("hours_wet")
    return Job.objects.create(
        area=call.area,
        number=_next_number(),
        opened_at=call.started_at,
        street=answers.get("street", ""),
        unit=answers.get("unit", ""),
        town=place.town,
        state=place.state,
        zip_code=place.zip_code or answers.get("zip_code", ""),
        county=place.county,
        time_zone=place.time_zone,
        lat=place.lat,
        lon=place.lon,
        water_source=answers.get("water_source", ""),
        running=answers.get("running", Job.Running.UNKNOWN),
        power=answers.get("power", Job.Power.UNKNOWN),
        category=answers.get("category"),
        building=answers.get("building", ""),
        year_built=answers.get("year_built"),
        dwelling_units=answers.get("dwelling_units", 1),
        began_at=call.started_at - timedelta(hours=hours) if hours is not None else None,
        hazards=answers.get("hazards", []),
        language=answers.get("language", ""),
        circuits=answers.get("circuits", []),
        payer=_payer(answers.get("payer", "")),
        claim_number=private.get("claim_number", ""),
        referred_by=answers.get("referred_by", ""),
    )


def _people(call: Call, job: Job) -> None:
    told: dict[str, Any] = call.private_answers
    role = call.answers.get("caller_role", "caller")
    lets_in, can_sign, name = told.get("lets_in", ""), told.get("can_sign", ""), told.get("caller_name", "")
    himself = {"", role, name, "caller", "same", "self"}
    Contact.objects.create(
        job=job,
        role=role,
        name=name,
        phone=standard(told.get("callback_number", "")),
        lets_in=bool(lets_in) and lets_in in himself,
        can_sign=bool(can_sign) and can_sign in himself,
    )
    if lets_in not in himself:
        Contact.objects.create(
            job=job, role="lets us in", name=lets_in[:80], lets_in=True, can_sign=can_sign == lets_in
        )
    if can_sign not in himself | {lets_in}:
        Contact.objects.create(job=job, role="can sign", name=can_sign[:80], can_sign=True)
    PrivateFacts.objects.create(job=job, access=told.get("access", ""), care=told.get("care", ""))


def _payer(told: str) -> Payer | None:
    """By its code or its name; who is none of ours stays unnamed until the office knows."""
    return Payer.objects.filter(Q(code__iexact=told) | Q(name__iexact=told)).first() if told else None


def _next_number() -> str:
    # Numbers are given one at a time: the areas are few, and locking them lets one caller after the other look.
    list(Area.objects.select_for_update(no_key=True).order_by("pk").values_list("pk", flat=True))
    given = Job.objects.filter(number__regex=r"^J-[0-9]+$").values_list("number", flat=True)
    return f"J-{max((int(number[2:]) for number in given), default=FIRST_NUMBER - 1) + 1}"
