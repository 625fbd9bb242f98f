"""Writing the journal: one row for one thing that happened, in the caller's transaction."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User

from jobs.models import Job, JournalEntry


def note(
    *,
    kind: str,
    actor: User,
    now: datetime,
    job: Job | None = None,
    area_id: int | None = None,
    happened_at: datetime | None = None,
    data: Mapping[str, Any] | None = None,
) -> JournalEntry:
    """
    Write one entry. `data` holds ids and figures only: a name, a code or a health note could not be erased again.

    :raises ValueError: if neither a job nor an area is given.
    """
    area = job.area_id if job is not None else area_id
    if area is None:
        raise ValueError("an entry belongs to a job or to an area")
    return JournalEntry.objects.create(
        area_id=area,
        job=job,
        kind=kind,
        happened_at=happened_at or now,
        recorded_at=now,
        actor=actor,
        data=dict(data or {}),
    )
