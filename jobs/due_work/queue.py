"""Writing, cancelling and finding work."""

import logging
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.conf import settings
from django.db import IntegrityError, transaction
from django.db.models import Q

from jobs.due_work.registry import handler_for
from jobs.models.due_work import DueWork

log = logging.getLogger(__name__)
# A broker hands a message that waits longer than its hour to every worker in turn; the sweep finds such work anyway.
WAKE_WITHIN_S = 900.0


def enqueue(
    *, kind: str, arguments: Mapping[str, Any], due_at: datetime, now: datetime, coalesce: str | None = None
) -> int:
    """
    Write a row of work in the caller's transaction and return its id.

    With a coalescing key, a pending row of the same key takes the arguments and the earlier time instead.

    :raises LookupError: if nothing is registered for the kind.
    """
    queue = handler_for(kind).queue
    try:
        with transaction.atomic():
            row = DueWork.objects.create(
                kind=kind, arguments=dict(arguments), due_at=due_at, made_at=now, coalesce=coalesce
            )
    except IntegrityError:
        pending = DueWork.objects.select_for_update().filter(coalesce=coalesce, state=DueWork.State.PENDING)
        found = pending.first()
        if found is None:
            # Claimed between our insert and our look: what it does now may miss our change, so a new row is due.
            return enqueue(kind=kind, arguments=arguments, due_at=due_at, now=now, coalesce=coalesce)
        row = found
        row.arguments, row.due_at = dict(arguments), min(row.due_at, due_at)
        row.save(update_fields=["arguments", "due_at"])
    _wake(row.pk, queue, (row.due_at - now).total_seconds())
    return row.pk


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
        try:
            run_row.apply_async((pk,), countdown=max(0.0, delay_s), queue=queue, retry=False)
        except Exception:
            log.warning("work %s is written, but no worker could be woken; the sweep will find it", pk, exc_info=True)

    transaction.on_commit(send)
