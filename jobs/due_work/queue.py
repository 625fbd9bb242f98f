"""Writing, cancelling and finding work."""

import logging
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from types import SimpleNamespace
from typing import Any

from django.conf import settings
from django.db import connection, transaction
from django.db.models import Q

from jobs import rows
from jobs.due_work.registry import handler_for
from jobs.models.due_work import DueWork

log = logging.getLogger(__name__)
# A broker hands a message that waits longer than its hour to every worker in turn; the sweep finds such work anyway.
WAKE_WITHIN_S = 900.0

# A broker that is away takes seconds to say so; so long nobody waits for it again.
UNHEARD_S = 10.0
_unheard = SimpleNamespace(until=0.0)

# What becomes of a pending row with the same coalescing key; one that is being claimed meanwhile is no longer pending,
# and may miss our change, so that a new row is written.
_MERGE = {
    vendor: "(coalesce) WHERE state = 'pending' DO UPDATE SET arguments = excluded.arguments, "
    f"due_at = {least}(jobs_duework.due_at, excluded.due_at)"
    for vendor, least in (("postgresql", "LEAST"), ("sqlite", "MIN"))
}


@dataclass(frozen=True)
class Work:
    """One piece of work to be written."""

    kind: str
    arguments: Mapping[str, Any]
    due_at: datetime
    coalesce: str | None = None


def enqueue(
    *, kind: str, arguments: Mapping[str, Any], due_at: datetime, now: datetime, coalesce: str | None = None
) -> int:
    """
    Write a row of work in the caller's transaction and return its id.

    With a coalescing key, a pending row of the same key takes the arguments and the earlier time instead.

    :raises LookupError: if nothing is registered for the kind.
    """
    return enqueue_all([Work(kind, arguments, due_at, coalesce)], now=now)[0]


def enqueue_all(wanted: Sequence[Work], *, now: datetime, along: Sequence[rows.Insert] = ()) -> list[int]:
    """
    As `enqueue`, for several pieces of work with one statement; no two of them have the same coalescing key.

    `along`: rows of others that are inserted by the same statement where the database can.
    """
    for work in wanted:
        handler_for(work.kind)
    made = [
        DueWork(kind=work.kind, arguments=dict(work.arguments), due_at=work.due_at, made_at=now, coalesce=work.coalesce)
        for work in wanted
    ]
    inserts = [*along, rows.Insert(made, _MERGE[connection.vendor])] if made else along
    keys = rows.insert_together(*inserts) if inserts else []
    keys = keys if made else []
    for key, work in zip(keys, wanted, strict=True):
        _wake(key, handler_for(work.kind).queue, (work.due_at - now).total_seconds())
    return keys


def cancel(*, coalesce: str, now: datetime) -> int:
    """Cancel what is pending under a coalescing key; how many rows that were (0 or 1)."""
    pending = DueWork.objects.filter(coalesce=coalesce, state=DueWork.State.PENDING)
    return pending.update(state=DueWork.State.CANCELED, finished_at=now)


def ready(now: datetime) -> Q:
    """Pending and due, or running on a lease that ran out."""
    return Q(state=DueWork.State.PENDING, due_at__lte=now) | Q(state=DueWork.State.RUNNING, lease_until__lt=now)


def due_ids(*, now: datetime, at_most: int = 200) -> list[int]:
    """Ids of work that is due, oldest first."""
    return list(DueWork.objects.filter(ready(now)).order_by("due_at", "id").values_list("pk", flat=True)[:at_most])


def _wake(pk: int, queue: str, delay_s: float) -> None:
    """Wake a worker once the row is committed. Beat sweeps up whatever this misses, so a dead broker is only logged."""
    if not settings.REDIS_URL or delay_s > WAKE_WITHIN_S:
        return
    from jobs.due_work.tasks import run_row

    def send() -> None:
        if time.monotonic() < _unheard.until:
            return
        try:
            run_row.apply_async((pk,), countdown=max(0.0, delay_s), queue=queue, retry=False)
        except Exception:
            _unheard.until = time.monotonic() + UNHEARD_S
            log.warning("work %s is written, but no worker could be woken; the sweep will find it", pk, exc_info=True)

    transaction.on_commit(send)
