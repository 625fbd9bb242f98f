"""Figures of a running installation, read for `/healthz` and `/metrics`: ages and counts, nothing of anybody."""

import logging
from dataclasses import dataclass
from datetime import datetime

import redis
from django.conf import settings
from django.db.models import Count, Min

from dispatch.models import Notice
from equipment.audit import NIGHTLY
from jobs.due_work.queue import ready
from jobs.models import DueWork

QUEUES = ("quick", "plan")
BROKER_S = 2.0
log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Outbox:
    """Messages to people: how many in each state, and the age of the oldest that waits, in seconds."""

    by_state: dict[str, int]
    oldest_s: float


@dataclass(frozen=True)
class Audit:
    """When both ledgers were last audited, and how many differences that found."""

    at: datetime
    differences: int


def oldest_s(*, now: datetime) -> float:
    """Seconds since the oldest row that nobody handled fell due; 0 where none is late (1 query)."""
    since = DueWork.objects.filter(ready(now)).aggregate(at=Min("due_at"))["at"]
    return 0.0 if since is None else max(0.0, (now - since).total_seconds())


def late_rows(*, before: datetime, now: datetime) -> int:
    """Rows that fell due before then and that nobody has in hand (1 query)."""
    return DueWork.objects.filter(ready(now), due_at__lt=before).count()


def work_by_state(*, now: datetime) -> dict[str, int]:
    """Rows that wait, are in hand, or were given up; what is done is history (1 query)."""
    told = (DueWork.State.PENDING, DueWork.State.RUNNING, DueWork.State.FAILED)
    rows = DueWork.objects.filter(state__in=told).values("state").annotate(number=Count("pk")).order_by()
    return {str(state): 0 for state in told} | {row["state"]: row["number"] for row in rows}


def outbox(*, now: datetime) -> Outbox:
    """The messages' states (2 queries)."""
    rows = Notice.objects.values("state").annotate(number=Count("pk")).order_by()
    since = Notice.objects.filter(state=Notice.State.WAITING).aggregate(at=Min("made_at"))["at"]
    return Outbox(
        {str(state): 0 for state in Notice.State.values} | {row["state"]: row["number"] for row in rows},
        0.0 if since is None else max(0.0, (now - since).total_seconds()),
    )


def last_audit() -> Audit | None:
    """The last audit by the clock; None before the first (1 query)."""
    rows = DueWork.objects.filter(kind=NIGHTLY, state=DueWork.State.DONE, finished_at__isnull=False)
    row = rows.order_by("-finished_at").first()
    if row is None or row.finished_at is None:
        return None
    return Audit(row.finished_at, row.result if isinstance(row.result, int) else 0)


def queue_lengths() -> dict[str, int]:
    """Wake-ups in each queue; none where no broker is set, or it does not answer."""
    if not settings.REDIS_URL:
        return {}
    try:
        with _broker() as broker:
            return {queue: int(broker.llen(queue)) for queue in QUEUES}  # type: ignore[arg-type]
    except redis.RedisError:
        log.warning("The broker does not answer", exc_info=True)
        return {}


def broker_answers() -> bool:
    """Whether the broker answers within two seconds."""
    try:
        with _broker() as broker:
            return bool(broker.ping())
    except redis.RedisError:
        log.warning("The broker does not answer", exc_info=True)
        return False


def _broker() -> redis.Redis:
    return redis.Redis.from_url(settings.REDIS_URL, socket_timeout=BROKER_S, socket_connect_timeout=BROKER_S)
