"""Confirming, extending, shortening, releasing and closing what was held."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.contrib.auth.models import User

from equipment import locks
from equipment.models import Pool, Reservation
from equipment.reservations import book, loan_hours, shortage
from equipment.reservations.terms import check_keeping, check_period
from jobs.refusals import NotThere, Refusal, Unusable
from jobs.use_case import use_case


@dataclass(frozen=True)
class Changed:
    """A promise as it stands after a change."""

    reservation_id: int
    state: str
    quantity: int
    drawn: int
    starts_at: datetime
    ends_at: datetime
    keep_until: datetime | None


class HoldOver(Refusal):
    """The promise was released, lapsed or closed before."""

    code = "hold_over"


class StillOut(Refusal):
    """Units that were drawn on the promise have not come back."""

    code = "still_out"


@use_case("confirm_hold")
def confirm_hold(*, key: UUID, actor: User, now: datetime, reservation_id: int) -> Changed:
    """
    Make a hold lasting. A confirmed promise stays confirmed.

    :raises HoldOver: if it lapsed or was released before.
    """
    promise, _ = locked(reservation_id)
    if promise.state != Reservation.State.CONFIRMED:
        book.write(promise, book.Kind.CONFIRM, key=key, now=now, actor=actor)
    return changed(promise)


@use_case("extend_hold")
def extend_hold(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    reservation_id: int,
    ends_at: datetime | None = None,
    quantity: int | None = None,
    keep_for: timedelta | None = None,
    reason: str = "",
) -> Changed:
    """
    Promise for longer, promise more units, or keep an unconfirmed hold for longer; what is not given stays.

    :raises Short: if the pool would be promised beyond its stock.
    :raises HoldOver: if it lapsed or was released before.
    :raises Unusable: if a value would make the promise smaller, or longer than a loan of its units.
    """
    if keep_for is not None:
        check_keeping(keep_for)
    promise, pool = locked(reservation_id)
    ends_at, quantity = ends_at or promise.ends_at, promise.quantity if quantity is None else quantity
    if ends_at < promise.ends_at or quantity < promise.quantity:
        raise Unusable("This would make the promise smaller. Shorten it instead.", where="ends_at")
    if (ends_at, quantity) != (promise.ends_at, promise.quantity):
        check_period(promise.starts_at, ends_at, now)
        loan_hours.check([pool.pk], starts_at=promise.starts_at, ends_at=ends_at)
        lacking = shortage.find(
            {pool.pk: pool},
            {pool.pk: quantity},
            starts_at=promise.starts_at,
            ends_at=ends_at,
            now=now,
            without=promise.pk,
        )
        if lacking:
            raise shortage.refuse(lacking, {pool.pk: pool})
    promise.ends_at, promise.quantity = ends_at, quantity
    if keep_for is not None and promise.state == Reservation.State.HELD:
        promise.keep_until = now + keep_for
    book.write(promise, book.Kind.EXTEND, key=key, now=now, actor=actor, reason=reason)
    return changed(promise)


@use_case("shorten_hold")
def shorten_hold(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    reservation_id: int,
    ends_at: datetime | None = None,
    quantity: int | None = None,
    reason: str = "",
) -> Changed:
    """
    Promise for a shorter time or fewer units; what is not given stays.

    :raises StillOut: if more units are out than would stay promised.
    :raises HoldOver: if it lapsed or was released before.
    :raises Unusable: if a value would make the promise larger, or leave nothing of it.
    """
    promise, _ = locked(reservation_id)
    ends_at, quantity = ends_at or promise.ends_at, promise.quantity if quantity is None else quantity
    if ends_at > promise.ends_at or quantity > promise.quantity:
        raise Unusable("This would make the promise larger. Extend it instead.", where="ends_at")
    if ends_at <= promise.starts_at or quantity < 1:
        raise Unusable("Nothing would be left of the promise. Release it instead.", where="quantity")
    if quantity < promise.drawn:
        raise _still_out(promise)
    promise.ends_at, promise.quantity = ends_at, quantity
    book.write(promise, book.Kind.SHORTEN, key=key, now=now, actor=actor, reason=reason)
    return changed(promise)


@use_case("release_hold")
def release_hold(*, key: UUID, actor: User, now: datetime, reservation_id: int, reason: str = "") -> Changed:
    """
    Give back what is promised and not yet taken. Units that are out stay promised until they come back.

    :raises HoldOver: if it lapsed or was released before.
    """
    promise, _ = locked(reservation_id)
    if promise.drawn:
        promise.quantity = promise.drawn
        book.write(promise, book.Kind.SHORTEN, key=key, now=now, actor=actor, reason=reason)
    else:
        book.write(promise, book.Kind.RELEASE, key=key, now=now, actor=actor, reason=reason)
    return changed(promise)


@use_case("close_hold")
def close_hold(*, key: UUID, actor: User, now: datetime, reservation_id: int, reason: str = "") -> Changed:
    """
    End a promise whose work is done.

    :raises StillOut: if units that were drawn on it have not come back.
    :raises HoldOver: if it ended before.
    """
    promise, _ = locked(reservation_id)
    if promise.drawn:
        raise _still_out(promise)
    book.write(promise, book.Kind.CLOSE, key=key, now=now, actor=actor, reason=reason)
    return changed(promise)


def locked(reservation_id: int) -> tuple[Reservation, Pool]:
    """
    A live promise and its pool, locked.

    :raises NotThere: if there is no such promise.
    :raises HoldOver: if it ended before.
    """
    pool_id = Reservation.objects.filter(pk=reservation_id).values_list("pool_id", flat=True).first()
    if pool_id is None:
        raise NotThere(f"There is no reservation {reservation_id}. Look at the job's list again.")
    pool = locks.lock_pools([pool_id])[pool_id]
    # Read again: what was read before the lock may have changed while we waited for it.
    promise = Reservation.objects.select_related("job").get(pk=reservation_id)
    if promise.state not in book.LIVE:
        raise HoldOver(
            f"This reservation is already {promise.get_state_display()}. Hold the equipment again.",
            state=promise.state,
        )
    return promise, pool


def changed(promise: Reservation) -> Changed:
    """The answer that every change gives."""
    return Changed(
        promise.pk,
        str(promise.state),
        promise.quantity,
        promise.drawn,
        promise.starts_at,
        promise.ends_at,
        promise.keep_until,
    )


def _still_out(promise: Reservation) -> StillOut:
    numbers = tuple(promise.units_out.order_by("unit__number").values_list("unit__number", flat=True)[:50])
    return StillOut(
        f"{promise.drawn} units are still out on this reservation: {', '.join(numbers)}. Bring them back first.",
        numbers=numbers,
    )
