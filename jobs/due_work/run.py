"""Claiming and doing work."""

import logging
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import F
from django.utils import timezone

from jobs.due_work.queue import due_ids, ready
from jobs.due_work.registry import Handler, handler_for
from jobs.models.due_work import DueWork

log = logging.getLogger(__name__)


def run_one(pk: int, *, now: datetime) -> bool:
    """
    Claim one row and do it. False if it is not due, or somebody else has it.

    A failure is kept on the row and tried again with a growing pause; after the last try it stays as failed. A
    try whose runner died is taken over when its lease has run out; where somebody is told of a failure, it counts too.
    """
    row = DueWork.objects.filter(ready(now), pk=pk).first()
    if row is None:
        return False
    handler = handler_for(row.kind)
    if handler.given_up is not None and row.attempts >= handler.tries:
        return _give_up(row, handler, now)
    claimed = DueWork.objects.filter(ready(now), pk=pk, attempts=row.attempts).update(
        state=DueWork.State.RUNNING, attempts=F("attempts") + 1, lease_until=now + handler.lease
    )
    if not claimed:
        return False
    attempt = row.attempts + 1
    new: dict[str, Any]
    try:
        result = handler.function(now=now, work_id=pk, **row.arguments)
        new = {"state": DueWork.State.DONE, "result": result, "error": "", "finished_at": now}
    except Exception as error:
        log.exception("work %s (%s) failed at attempt %s", pk, row.kind, attempt)
        new = {"error": f"{type(error).__name__}: {error}"}
        if attempt < handler.tries:
            new |= {"state": DueWork.State.PENDING, "due_at": now + timedelta(seconds=5 * 2 ** (attempt - 1))}
        else:
            new |= {"state": DueWork.State.FAILED, "finished_at": now}
    # Fenced by the attempt: who lost the lease meanwhile does not overwrite the answer of who took over.
    mine = DueWork.objects.filter(pk=pk, attempts=attempt, state=DueWork.State.RUNNING)
    try:
        with transaction.atomic():
            kept = mine.update(lease_until=None, **new)
            if kept and new["state"] == DueWork.State.FAILED and handler.given_up is not None:
                handler.given_up(now=now, work_id=pk, **row.arguments)
    except IntegrityError:
        # The same work was asked for again while this ran: the newer row does it, this one ends.
        mine.update(lease_until=None, state=DueWork.State.CANCELED, finished_at=now, error=new["error"])
    return True


def renew(pk: int, *, now: datetime) -> bool:
    """
    Keep a row in hand for another lease: long work says so from time to time, so that its lease can be short.

    False if it is in nobody's hand any more.
    """
    row = DueWork.objects.filter(pk=pk, state=DueWork.State.RUNNING).only("kind").first()
    if row is None:
        return False
    mine = DueWork.objects.filter(pk=pk, state=DueWork.State.RUNNING)
    return bool(mine.update(lease_until=now + handler_for(row.kind).lease))


def _give_up(row: DueWork, handler: Handler, now: datetime) -> bool:
    """The runner died at every try: say so instead of killing the next one."""
    error = f"whoever did it ended without a word, {row.attempts} times"
    mine = DueWork.objects.filter(ready(now), pk=row.pk, attempts=row.attempts)
    with transaction.atomic():
        if not mine.update(state=DueWork.State.FAILED, lease_until=None, finished_at=now, error=error):
            return False
        log.error("work %s (%s) is given up: %s", row.pk, row.kind, error)
        assert handler.given_up is not None
        handler.given_up(now=now, work_id=row.pk, **row.arguments)
    return True


def run_due(*, clock: Callable[[], datetime] = timezone.now, at_most: int = 200) -> int:
    """Do what is due, oldest first; how many rows were done."""
    return sum(run_one(pk, now=clock()) for pk in due_ids(now=clock(), at_most=at_most))
