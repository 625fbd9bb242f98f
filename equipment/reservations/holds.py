"""Holding equipment for a job."""

from collections import Counter
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.contrib.auth.models import User

from equipment import locks
from equipment.models import Pool, Reservation, SizingReport
from equipment.reservations import book, loan_hours, shortage
from equipment.reservations.terms import check_keeping, check_period
from jobs import rows
from jobs.models import Job
from jobs.refusals import NotThere, Unusable
from jobs.use_case import key_for, use_case


@dataclass(frozen=True)
class Held:
    """The holds that were made, one for each pool, and until when they are kept without a confirmation."""

    reservation_ids: tuple[int, ...]
    keep_until: datetime


@use_case("hold")
def hold(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    job_id: int,
    wanted: tuple[tuple[int, int], ...],
    starts_at: datetime,
    ends_at: datetime,
    keep_for: timedelta,
    sizing_id: int | None = None,
    leads_reason: str = "",
) -> Held:
    """
    Hold `wanted` = ((pool id, units), ...) for a job over [`starts_at`, `ends_at`), all or nothing.

    The hold is kept for `keep_for`, then lapses unless it is confirmed. It rests on a sizing report or on the lead's
    reason. Asking again with the same key returns the first answer.

    :raises Short: if a pool would be promised beyond its stock.
    :raises Busy: if others book the same pools for longer than we wait.
    :raises Unusable: if nothing is wanted, the period is empty or longer than the loan of it, or the hold rests on
        nothing.
    :raises NotThere: if the job, a pool or the sizing report does not exist.
    """
    quantities = _quantities(wanted)
    _check_job(job_id)
    check_period(starts_at, ends_at, now)
    check_keeping(keep_for)
    _check_ground(sizing_id, leads_reason)
    keys = rows.next_keys(Reservation, len(quantities))
    # Locked before we look, so that what we read is what we promise from.
    pools = locks.lock_pools(quantities)
    if missing := sorted(set(quantities) - set(pools)):
        raise NotThere(f"There is no stock row {missing[0]}. Look up what is free again.", where="wanted")
    loan_hours.check(quantities, starts_at=starts_at, ends_at=ends_at)
    lacking = shortage.find(pools, quantities, starts_at=starts_at, ends_at=ends_at, now=now)
    if lacking:
        raise shortage.refuse(lacking, pools)
    made = []
    for reservation_id, pool_id in zip(keys, sorted(quantities), strict=True):
        promise = Reservation(
            pk=reservation_id,
            pool=pools[pool_id],
            job_id=job_id,
            state=Reservation.State.HELD,
            quantity=quantities[pool_id],
            starts_at=starts_at,
            ends_at=ends_at,
            keep_until=now + keep_for,
            sizing_id=sizing_id,
            leads_reason=leads_reason[:300],
            made_at=now,
        )
        book.write(promise, book.Kind.HOLD, key=key_for(key, f"pool:{pool_id}"), now=now, actor=actor)
        made.append(promise.pk)
    return Held(tuple(made), now + keep_for)


def _quantities(wanted: tuple[tuple[int, int], ...]) -> dict[int, int]:
    quantities: Counter[int] = Counter()
    for pool_id, units in wanted:
        if units < 1:
            raise Unusable(f"{units} units cannot be held. Ask for one or more.", where="wanted")
        quantities[pool_id] += units
    if not quantities:
        raise Unusable("Nothing is asked for. Name at least one model and place.", where="wanted")
    return dict(quantities)


def _check_job(job_id: int) -> None:
    found = rows.select("SELECT number, stage FROM jobs_job WHERE id = %s", [job_id])
    if not found:
        raise NotThere(f"There is no job {job_id}. Search for it by number or street.", where="job_id")
    for number, stage in found:
        if stage == Job.Stage.CLOSED:
            raise Unusable(f"Job {number} is closed. Equipment is held for open jobs only.", where="job_id")


def _check_ground(sizing_id: int | None, leads_reason: str) -> None:
    if sizing_id is None and not leads_reason.strip():
        raise Unusable(
            "A hold rests on a sizing report or on the lead's reason. Name one of them.", where="leads_reason"
        )
    if sizing_id is not None and not SizingReport.objects.filter(pk=sizing_id).exists():
        raise NotThere(f"There is no sizing report {sizing_id}. Work out the estimate again.", where="sizing_id")


def pool_ids_of(*, model_id: int, place_ids: tuple[int, ...]) -> tuple[int, ...]:
    """The stock rows of one model at these holders."""
    rows = Pool.objects.filter(model_id=model_id, place_id__in=place_ids).order_by("pk")
    return tuple(rows.values_list("pk", flat=True))
