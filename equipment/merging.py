"""
What is held for a job goes over to another job of the same loss: released for the one, held anew for the other.

A promise's entries are sealed with its job, so no row changes hands. The pools are locked before, in key order, so
that nobody takes what is free for the moment between. Nobody but `dispatch.merging` calls it, in its transaction.
"""

from collections.abc import Iterable
from datetime import datetime
from uuid import UUID

from django.contrib.auth.models import User

from equipment import locks, places, reservations
from equipment.models import LoadLine, LoadList, Reservation, UnitNow
from equipment.reservations.book import LIVE
from jobs.models import Job
from jobs.use_case import key_for

MOST = 50


def units_at(job_id: int) -> tuple[str, ...]:
    """The numbers of what the record has at a job; its place is locked, so that nothing arrives meanwhile."""
    holder = places.holder_for_job(job_id)
    locks.lock_holder(holder.pk)
    rows = UnitNow.objects.filter(holder=holder).order_by("unit__number")
    return tuple(rows.values_list("unit__number", flat=True)[:MOST])


def units_on_the_way(job_id: int) -> tuple[str, ...]:
    """The numbers of what was already taken for a job and stands somewhere else, as aboard a vehicle."""
    rows = UnitNow.objects.filter(reservation__job_id=job_id).exclude(holder__job_id=job_id)
    return tuple(rows.order_by("unit__number").values_list("unit__number", flat=True)[:MOST])


def live(job_id: int) -> tuple[int, ...]:
    """The reservations of a job that hold something, of which nothing was taken yet."""
    rows = Reservation.objects.filter(job_id=job_id, state__in=LIVE, drawn=0)
    return tuple(rows.order_by("pool_id", "pk").values_list("pk", flat=True))


def hold_instead(
    *, key: UUID, actor: User, now: datetime, reservation_ids: Iterable[int], job: Job, why: str
) -> tuple[tuple[int, int], ...]:
    """
    Give these reservations, as far as nothing was taken of them, to another job: ((old id, new id), ...).

    One whose time to be kept has run out is only released, as its timer would have done.
    """
    rows = Reservation.objects.filter(pk__in=list(reservation_ids), state__in=LIVE, drawn=0)
    locks.lock_pools(rows.values_list("pool_id", flat=True))
    pairs: list[tuple[int, int]] = []
    for old in rows.order_by("pool_id", "pk"):
        part = key_for(key, f"instead of {old.pk}")
        held = old.state == Reservation.State.HELD
        lapsed = held and old.keep_until is not None and old.keep_until <= now
        confirmed, keep_until = not held, old.keep_until
        reservations.release_hold(key=key_for(part, "release"), actor=actor, now=now, reservation_id=old.pk, reason=why)
        if lapsed or old.ends_at <= now:
            continue
        new = reservations.hold(
            key=key_for(part, "hold"),
            actor=actor,
            now=now,
            job_id=job.pk,
            wanted=((old.pool_id, old.quantity),),
            starts_at=old.starts_at,
            ends_at=old.ends_at,
            keep_for=(keep_until or old.ends_at) - now,
            sizing_id=old.sizing_id,
            leads_reason=old.leads_reason,
        ).reservation_ids[0]
        if confirmed:
            reservations.confirm_hold(key=key_for(part, "confirm"), actor=actor, now=now, reservation_id=new)
        lines = LoadLine.objects.filter(reservation=old, load_list__state=LoadList.State.OPEN)
        lines.update(job=job, reservation_id=new)
        pairs.append((old.pk, new))
    return tuple(pairs)
