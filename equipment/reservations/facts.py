"""What custody tells the promises: a unit was taken, a unit came back. Facts are never refused."""

from datetime import datetime, timedelta
from typing import TypedDict
from uuid import UUID

from django.contrib.auth.models import User
from django.db.models import Max

from equipment import alarms
from equipment.models import Pool, Reservation
from equipment.reservations import book
from equipment.stock.availability import free
from jobs.models import Job

# How long equipment stays when nobody has said: common practice, no source (drying mostly takes 3 to 5 days).
USUAL_STAY = timedelta(days=4)
HORIZON = timedelta(days=30)


class Common(TypedDict):
    """What every change of a promise takes beside it."""

    key: UUID
    part: str
    now: datetime
    actor: User
    later: book.Later | None


def promise_to_draw_on(*, pool: Pool, job: Job, happened_at: datetime, now: datetime) -> Reservation:
    """The job's live promise on the pool that still has units to give; else any live one; else a new one."""
    live = list(Reservation.objects.filter(pool=pool, job=job, state__in=book.LIVE).order_by("ends_at", "id"))
    if live:
        return next((row for row in live if row.drawn < row.quantity), max(live, key=lambda row: row.pk))
    until = Reservation.objects.filter(job=job, state__in=book.LIVE).aggregate(Max("ends_at"))["ends_at__max"]
    return Reservation.objects.create(
        pool=pool,
        job=job,
        state=Reservation.State.CONFIRMED,
        quantity=0,
        starts_at=happened_at,
        ends_at=until if until is not None and until > happened_at else happened_at + USUAL_STAY,
        leads_reason="taken without a hold",
        made_at=now,
    )


def draw(
    promise: Reservation,
    *,
    key: UUID,
    part: str,
    happened_at: datetime,
    now: datetime,
    actor: User,
    later: book.Later | None = None,
) -> bool:
    """A unit was taken on the promise. True if that is more than was promised."""
    common: Common = {"key": key, "part": part, "now": now, "actor": actor, "later": later}
    if promise.state == Reservation.State.HELD:
        # Who takes the units has decided: a hold that is being used cannot lapse any more.
        book.write(promise, book.Kind.CONFIRM, reason="units were taken", **common)
    promise.starts_at = min(promise.starts_at, happened_at)
    beyond = promise.drawn >= promise.quantity
    promise.drawn += 1
    promise.quantity = max(promise.quantity, promise.drawn)
    kind = book.Kind.OVERRUN if beyond else book.Kind.DRAW
    book.write(promise, kind, **common)
    return beyond


def give_back(
    promise: Reservation,
    *,
    used: bool,
    key: UUID,
    part: str,
    now: datetime,
    actor: User,
    later: book.Later | None = None,
) -> None:
    """A unit came back. Used: the promise is smaller by one, and ends with the last; unused: it can be taken again."""
    common: Common = {"key": key, "part": part, "now": now, "actor": actor, "later": later}
    promise.drawn -= 1
    if used:
        promise.quantity -= 1
    book.write(promise, book.Kind.GIVE_BACK, **common)
    if used and promise.quantity == 0:
        book.write(promise, book.Kind.CLOSE, reason="all came back", **common)


def swap_for_equivalent(
    promise: Reservation, *, key: UUID, part: str, now: datetime, actor: User, later: book.Later | None = None
) -> None:
    """One unit of another model was taken in its place: one less of this model is needed."""
    if promise.state not in book.LIVE or promise.quantity <= promise.drawn:
        return
    promise.quantity -= 1
    reason = "an equivalent was taken"
    kind = book.Kind.SHORTEN if promise.quantity else book.Kind.RELEASE
    book.write(promise, kind, key=key, part=part, now=now, actor=actor, reason=reason, later=later)


def ran_after_all(
    promise: Reservation, *, key: UUID, part: str, now: datetime, actor: User, later: book.Later | None = None
) -> None:
    """A unit that was given back as unused had run, as is known late: one less of the promise is left to be taken."""
    if promise.state not in book.LIVE or promise.quantity <= promise.drawn:
        return
    promise.quantity -= 1
    kind = book.Kind.SHORTEN if promise.quantity else book.Kind.CLOSE
    reason = "it ran, recorded late"
    book.write(promise, kind, key=key, part=part, now=now, actor=actor, reason=reason, later=later)


def warn_if_over(pool_ids: set[int], *, actor: User, now: datetime, job: Job | None = None) -> None:
    """Raise an alarm for every pool of which more is promised than can work."""
    used = book.uses(pool_ids, now=now, not_before=now, until=now + HORIZON)
    rows = Pool.objects.select_related("place__vehicle").only(
        "model", "stock", "counted_away", "place__vehicle__in_workshop"
    )
    for pool in rows.filter(pk__in=pool_ids).order_by("pk"):
        if free(used[pool.pk], book.usable_stock(pool), now, now + HORIZON) < 0:
            alarms.raise_alarm(
                kind="over_promised",
                text=f"More {pool.model.name} is promised from {pool.place} than can work there. "
                "Find another source or agree a later time.",
                area_id=pool.place.area_id,
                actor=actor,
                now=now,
                job=job,
            )
