"""What happens to promises when their time has come."""

from datetime import datetime
from typing import Any
from uuid import UUID, uuid5

from django.contrib.auth.models import User

from equipment.models import Reservation
from equipment.reservations import book, facts
from equipment.reservations.changes import HoldOver, locked
from jobs import due_work
from jobs.people import system_user
from jobs.use_case import use_case

_TIMERS = UUID("5b1f6d0a-6b5e-4b0e-9c57-0f6f7c1d2a10")


@use_case("expire_hold")
def expire_hold(*, key: UUID, actor: User, now: datetime, reservation_id: int) -> bool:
    """Let a hold lapse that nobody confirmed in time. False: it was confirmed, kept longer, or is over."""
    try:
        promise, _ = locked(reservation_id)
    except HoldOver:
        return False
    if promise.state != Reservation.State.HELD or promise.keep_until is None:
        return False
    if promise.keep_until > now:
        due_work.enqueue_all([book.timer(book.EXPIRE, promise, promise.keep_until)], now=now)
        return False
    book.write(promise, book.Kind.EXPIRE, key=key, now=now, actor=actor, reason="not confirmed in time")
    return True


@use_case("end_of_promise")
def end_of_promise(*, key: UUID, actor: User, now: datetime, reservation_id: int) -> str:
    """
    A promise's period is over: close it, or, while units are still out on it, let it run on and say so.

    Answers "closed", "overrun", or "not yet" for a promise that was moved or is over.
    """
    try:
        promise, pool = locked(reservation_id)
    except HoldOver:
        return "not yet"
    if promise.ends_at > now:
        due_work.enqueue_all([book.timer(book.END, promise, promise.ends_at)], now=now)
        return "not yet"
    if not promise.drawn:
        book.write(promise, book.Kind.CLOSE, key=key, now=now, actor=actor, reason="its period is over")
        return "closed"
    promise.ends_at, promise.quantity = now + book.OVERRUN_STEP, promise.drawn
    book.write(promise, book.Kind.OVERRUN, key=key, now=now, actor=actor, reason="still out after its period")
    facts.warn_if_over({pool.pk}, actor=actor, now=now, job=promise.job)
    return "overrun"


def do_expire(*, now: datetime, work_id: int, reservation_id: int) -> Any:
    """The timer of `expire_hold`."""
    key = uuid5(_TIMERS, f"expire:{work_id}:{reservation_id}:{now.isoformat()}")
    return expire_hold(key=key, actor=system_user(), now=now, reservation_id=reservation_id)


def do_end(*, now: datetime, work_id: int, reservation_id: int) -> Any:
    """The timer of `end_of_promise`."""
    key = uuid5(_TIMERS, f"end:{work_id}:{reservation_id}:{now.isoformat()}")
    return end_of_promise(key=key, actor=system_user(), now=now, reservation_id=reservation_id)


def register() -> None:
    """Tell the runner who does this work."""
    due_work.register(book.EXPIRE, do_expire)
    due_work.register(book.END, do_end)
