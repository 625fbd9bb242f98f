"""
Two open jobs turn out to be one loss: one goes on with everything, the other ends as joined to it, and can be split
off again.

The job at which work has begun is the one that stays, since what was recorded there once stays there. Each caller
keeps what they were promised: the crew that goes there keeps it for all of them.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.contrib.auth.models import User

from dispatch import callouts, departures, notify, routes
from dispatch.call_out_timers import key_of
from dispatch.models import CallOut, Crew, Notice, Stop
from equipment import merging as equipment
from equipment.models import SiteCount
from jobs import merging as ground
from jobs.models import AirReading, Job, MaterialPoint, Photo, Room, Signature, Visit
from jobs.refusals import Refusal
from jobs.use_case import key_for, use_case


class WorkBegun(Refusal):
    """Work has begun at the job that would end, so it is the one to stay; or at both, so neither can end."""

    code = "work_has_begun"


@dataclass(frozen=True)
class JobsMerged:
    """The job that goes on, and what it took over from the one that ended."""

    job_id: int
    job_number: str
    ended_job_id: int
    ended_number: str
    contact_ids: tuple[int, ...]
    call_ids: tuple[int, ...]
    room_names: tuple[str, ...]
    visit_ids: tuple[int, ...]
    visits_not_needed: tuple[int, ...]
    reservation_ids: tuple[int, ...]
    next_step: str


@dataclass(frozen=True)
class JobsSplit:
    """The job that is open again, and what went back to it."""

    job_id: int
    job_number: str
    split_from: str
    visit_ids: tuple[int, ...]
    reservation_ids: tuple[int, ...]
    next_step: str


@use_case("merge_jobs")
def merge_jobs(*, key: UUID, actor: User, now: datetime, job_id: int, into_job_id: int) -> JobsMerged:
    """
    End a job as joined to another one of the same loss, which takes over its people, calls, rooms, visits and holds.

    :raises WorkBegun: if equipment, a crew or a record is at the job that would end.
    :raises NotThere: if there is no such job.
    :raises JobOver: if one of them is closed.
    :raises JobsApart: if they lie in different areas, or another job was joined to the one that would end.
    """
    # The places before the jobs, as in placing and closing, so that two writers never wait on each other.
    for pk in sorted({job_id, into_job_id}):
        equipment.units_at(pk)
    job, into = ground.lock_both(job_id, into_job_id)
    # Whoever says yes at this moment is waited for.
    asked = CallOut.objects.select_for_update(of=("self",)).filter(visit__job=job, state=CallOut.State.ASKING)
    list(asked.order_by("pk").values_list("pk"))
    _refuse_begun(job, into)
    pairs = equipment.hold_instead(
        key=key_for(key, "holds"),
        actor=actor,
        now=now,
        reservation_ids=equipment.live(job.pk),
        job=into,
        why=f"joined to {into.number}",
    )
    # What was taken for the job since we looked, before its pools were locked.
    _refuse_begun(job, into)
    taken = ground.take_over(job, into, actor=actor, now=now, extra={"reservations": pairs})
    crews = _stand_down(taken.canceled, job, into, now)
    departures.write(key=key_for(key, "loads"), actor=actor, now=now, crews=crews)
    rooms = Room.objects.filter(pk__in=[room_id for room_id, _, _ in taken.rooms]).order_by("pk")
    return JobsMerged(
        into.pk,
        into.number,
        job.pk,
        job.number,
        tuple(taken.contacts),
        tuple(taken.calls),
        tuple(rooms.values_list("name", flat=True)),
        tuple(taken.visits),
        tuple(taken.canceled),
        tuple(new for _, new in pairs),
        _next_step(taken, pairs, into),
    )


@use_case("split_jobs")
def split_jobs(*, key: UUID, actor: User, now: datetime, job_id: int) -> JobsSplit:
    """
    Open a joined job again with what it brought; what was worked on since stays with the job that went on.

    :raises NotMerged: if it was not joined to another job.
    :raises JobOver: if the job that went on in its place is closed.
    """
    job, into, data = ground.joined_job(job_id)
    today = now.astimezone(job.area.zone).date()
    visits = ground.give_back(job, into, data, actor=actor, now=now, today=today)
    pairs = equipment.hold_instead(
        key=key_for(key, "holds"),
        actor=actor,
        now=now,
        reservation_ids=[new for _, new in data["reservations"]],
        job=job,
        why=f"split from {into.number}",
    )
    stayed = len(data["visits"]) + len(data["canceled"]) - len(visits)
    return JobsSplit(
        job.pk,
        job.number,
        into.number,
        tuple(visits),
        tuple(new for _, new in pairs),
        f"Check both jobs. {f'{stayed} visits that have begun stay with {into.number}. ' if stayed else ''}"
        f"Equipment that stands at {into.number} stays there: move what belongs to {job.number}, then size both again.",
    )


def _begun(job: Job) -> list[str]:
    """What of a job was written once and cannot go over, in words."""
    found = []
    if numbers := equipment.units_at(job.pk):
        found.append(f"equipment stands there ({', '.join(numbers)})")
    if numbers := equipment.units_on_the_way(job.pk):
        found.append(f"equipment is on its way there ({', '.join(numbers)})")
    visits = job.visits.all()
    if visits.filter(state=Visit.State.UNDER_WAY).exists() or visits.filter(left_at__isnull=False).exists():
        found.append("a crew is there, was there, or is on its way")
    elif visits.filter(state=Visit.State.DONE).exists():
        found.append("a crew was there")
    elif CallOut.objects.filter(visit__job=job, visit__state=Visit.State.DUE, state=CallOut.State.ACCEPTED).exists():
        found.append("a crew said yes and is leaving")
    for rows, words in (
        (AirReading, "readings were taken"),
        (MaterialPoint, "material points were set"),
        (Photo, "photos were taken"),
        (Signature, "something was signed"),
        (SiteCount, "equipment was counted"),
    ):
        if rows._default_manager.filter(job=job).exists():
            found.append(words)
    return found


def _refuse_begun(job: Job, into: Job) -> None:
    begun = _begun(job)
    if not begun:
        return
    why = f"At {job.number} work has begun: {'; '.join(begun)}."
    if _begun(into):
        what = (
            f"So it has at {into.number}. Let one crew finish its visit, move the equipment to the job that stays, and "
            "close the other one when it is empty; each keeps its own record."
        )
    else:
        what = f"Let {job.number} be the job that stays: join {into.number} to it instead."
    raise WorkBegun(f"{why} {what}", job=job.number, into=into.number, begun=begun)


def _stand_down(canceled: Iterable[int], job: Job, into: Job, now: datetime) -> list[Crew]:
    """Visits that are not needed leave their routes, and whoever was paged for them hears so; the crews concerned."""
    ids = list(canceled)
    crews = list(Crew.objects.filter(stops__visit__in=ids).distinct().order_by("pk"))
    routes.lock_crews(crew.pk for crew in crews)
    for call_out in CallOut.objects.filter(visit__in=ids, state=CallOut.State.ASKING).select_related("visit"):
        callouts.cancel(visit=call_out.visit, now=now)
        for step in call_out.steps.filter(notices__state=Notice.State.SENT).select_related("person").distinct():
            notify.write(
                key=key_of(f"joined {call_out.pk}/{step.number}"),
                area_id=call_out.area_id,
                person=step.person,
                text=f"No longer needed: {job.number} is the same loss as {into.number}. Thank you.",
                now=now,
                visit=call_out.visit,
            )
    Stop.objects.filter(visit__in=ids).delete()
    return crews


def _next_step(taken: ground.Taken, pairs: Iterable[tuple[int, int]], into: Job) -> str:
    words = []
    if taken.canceled:
        words.append(f"Tell its callers that the crew of {into.number} comes for them too.")
    if taken.category != into.category:
        words.append(f"The water is category {into.category} now: check that the crew may go.")
    if taken.rooms or tuple(pairs):
        words.append("Size the job again, and release what is held beyond that.")
    return " ".join(words) or "Nothing else is to be done."
