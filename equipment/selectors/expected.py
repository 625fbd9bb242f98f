"""What may come back from running jobs, and when: expected, never promised as certain."""

from dataclasses import dataclass
from datetime import datetime

from equipment.models import Reservation
from equipment.reservations import book
from jobs.drying_log import drying_logs
from jobs.expected_dry import expected_dry
from jobs.models import Job

AT_MOST = 500
AT_GOAL = "at goal: it can be picked up"
BY_PROMISE = "no forecast: the end of what is promised to the job"


@dataclass(frozen=True)
class Expected:
    """
    Units that may come back from a job. `expected_at` is the late end of the drying forecast, counted from the last
    reading; without a forecast, the end of the promise. `why` says which of the two it is and what it rests on.

    `dry_from` and `dry_by` are the forecast's range; None where there is none. Only a reading takes equipment away.
    """

    job_id: int
    job_number: str
    stage: str
    model_id: int
    model: str
    count: int
    expected_at: datetime
    dry_from: datetime | None
    dry_by: datetime | None
    why: str


def expected_back(
    *, area_id: int, until: datetime, now: datetime, model_id: int | None = None, at_most: int = 200
) -> tuple[Expected, ...]:
    """What is out at running jobs and expected back before `until`, the next first. Five queries."""
    out = Reservation.objects.filter(job__area=area_id, state__in=book.LIVE, drawn__gt=0)
    if model_id is not None:
        out = out.filter(pool__model=model_id)
    rows = list(out.select_related("job", "pool__model").order_by("ends_at", "id")[:AT_MOST])
    dry = {pk: expected_dry(log, now=now) for pk, log in drying_logs({row.job_id for row in rows}).items()}
    found: dict[tuple[int, int, datetime], Expected] = {}
    for row in rows:
        at, why, dry_from, dry_by = row.ends_at, BY_PROMISE, None, None
        forecast = dry[row.job_id]
        if row.job.stage == Job.Stage.AT_GOAL:
            why = AT_GOAL
        elif forecast.high_at is not None:
            why, dry_from, dry_by = forecast.why, forecast.low_at, forecast.high_at
            # A range that has passed says that a reading is due, not that the units are back.
            at = max(forecast.high_at, now)
        job, model = row.job, row.pool.model
        place = (job.pk, model.pk, at)
        more = found[place].count if place in found else 0
        found[place] = Expected(
            job.pk,
            job.number,
            job.stage,
            model.pk,
            model.name,
            more + row.drawn,
            at,
            dry_from,
            dry_by,
            why,
        )
    ordered = sorted(found.values(), key=lambda one: (one.expected_at, one.job_number, one.model))
    return tuple(one for one in ordered if one.expected_at <= until)[:at_most]
