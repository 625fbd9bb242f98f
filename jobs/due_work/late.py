"""Work that is due and that nobody does: whoever waits for it should know, before anybody reads a log."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Count, Min

from jobs.due_work.queue import ready
from jobs.models.due_work import DueWork

# Due work is begun within seconds; after this long nobody is there to do it.
NOTICED_AFTER = timedelta(seconds=30)


@dataclass(frozen=True)
class Late:
    """Since when the oldest waits, and how many rows of each kind."""

    since: datetime
    by_kind: Mapping[str, int]


def late_work(*, now: datetime) -> Late | None:
    """What fell due half a minute ago or earlier and is in nobody's hands; None: nothing (1 query)."""
    rows = DueWork.objects.filter(ready(now), due_at__lt=now - NOTICED_AFTER).values("kind").order_by()
    found = list(rows.annotate(number=Count("pk"), since=Min("due_at")))
    if not found:
        return None
    return Late(min(row["since"] for row in found), {row["kind"]: row["number"] for row in found})
