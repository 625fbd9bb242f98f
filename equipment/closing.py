"""Closing a job: custody is asked first, then what is still promised is released, then the job ends."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.contrib.auth.models import User

from equipment import locks, places, reservations
from equipment.models import Reservation, UnitNow
from equipment.reservations.book import LIVE
from jobs.closing import close_locked
from jobs.refusals import Refusal
from jobs.use_case import key_for, use_case

NAMED_AT_MOST = 50


class UnitsStillThere(Refusal):
    """A job is not closed while the record has a unit there."""

    code = "units_still_there"


@dataclass(frozen=True)
class Closed:
    """A closed job, and the promises that ended with it."""

    job_id: int
    released: tuple[int, ...]


@use_case("close_job")
def close_job(*, key: UUID, actor: User, now: datetime, job_id: int) -> Closed:
    """
    Close a job at which nothing stands any more.

    :raises UnitsStillThere: if the record has units there.
    :raises JobNotThere: if there is no such job.
    :raises JobOver: if it is closed.
    """
    holder = places.holder_for_job(job_id)
    # Placing takes the same lock, so that no unit arrives between the look and the closing.
    locks.lock_holder(holder.pk)
    there = UnitNow.objects.filter(holder=holder).order_by("unit__number").values_list("unit__number", flat=True)
    numbers = list(there[:NAMED_AT_MOST])
    if numbers:
        raise UnitsStillThere(
            f"{len(numbers)} units are still listed at job {holder}: {', '.join(numbers)}. "
            "Take them up, or scan them in where they are; then close the job.",
            numbers=numbers,
        )
    released = []
    for promise in Reservation.objects.filter(job=job_id, state__in=LIVE).order_by("pool_id", "pk"):
        part = key_for(key, f"release:{promise.pk}")
        reservations.release_hold(key=part, actor=actor, now=now, reservation_id=promise.pk, reason="job closed")
        released.append(promise.pk)
    close_locked(job_id=job_id, actor=actor, now=now)
    return Closed(job_id, tuple(released))
