"""'I placed 14, I see 13': said in one tap, at once and without blame; who looks for it is the desk's business."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.contrib.auth.models import User

from equipment import alarms, places
from equipment.models import Discrepancy, SiteCount, UnitNow
from jobs import journal
from jobs.happened import when
from jobs.refusals import Refusal, Unusable
from jobs.use_case import use_case

MOST_SEEN = 500


class NotListedHere(Refusal):
    """A unit is missed that the record does not have at this job."""

    code = "not_listed_here"
    status = 422


@dataclass(frozen=True)
class SiteCounted:
    """Units seen beside units on record at that moment; `alarm_id` where the two differ."""

    count_id: int
    listed: int
    seen: int
    missing: tuple[str, ...]
    alarm_id: int | None


@dataclass(frozen=True)
class SiteCountLine:
    """A count as it is listed."""

    listed: int
    seen: int
    missing: tuple[str, ...]
    counted_at: datetime
    recorded_at: datetime
    by: str


@use_case("count_at_job")
def count_at_job(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    job_id: int,
    seen: int | None = None,
    missing: tuple[str, ...] = (),
    visit_id: int | None = None,
    happened_at: datetime | None = None,
) -> SiteCounted:
    """
    Say how many units stand at a job, or which of the listed ones do not; without `seen` all others do.

    Nothing is moved by it: a unit that is missed stays listed, with a difference to be explained. When all are seen,
    all are marked as seen.

    :raises NotListedHere: if one is missed that is not listed there.
    """
    holder, at = places.holder_for_job(job_id), when(happened_at, now)
    job = holder.job
    assert job is not None
    rows = list(UnitNow.objects.filter(holder=holder).select_related("unit__model").order_by("unit__number"))
    named = {row.unit.number: row for row in rows}
    if strange := [number for number in missing if number not in named]:
        raise NotListedHere(
            f"{', '.join(strange)} is not on record at {job.number}, so it is not missed here. Look at the list again.",
            where="missing",
        )
    seen = len(rows) - len(set(missing)) if seen is None else seen
    if not 0 <= seen <= MOST_SEEN:
        raise Unusable(f"Say how many you see, from 0 to {MOST_SEEN}.", where="seen")
    count = SiteCount.objects.create(
        key=key,
        job=job,
        visit_id=visit_id,
        listed=len(rows),
        seen=seen,
        missing=sorted(set(missing)),
        counted_at=at,
        recorded_at=now,
        counted_by=actor,
    )
    for number in sorted(set(missing)):
        found = f"not seen at {job.number}"
        Discrepancy.objects.create(unit=named[number].unit, said=f"at {job.number}", found=found, opened_at=now)
    there = [row for number, row in named.items() if number not in missing] if len(rows) - len(missing) == seen else []
    for row in there:
        row.seen_at, row.seen_by = max(row.seen_at, at), actor
        row.save(update_fields=["seen_at", "seen_by"])
    data = {"count": count.pk, "listed": len(rows), "seen": seen}
    journal.note(kind="units_counted_at_job", actor=actor, now=now, job=job, happened_at=at, data=data)
    alarm_id = None
    if seen != len(rows):
        text = f"{job.number}: {len(rows)} units on record, {seen} seen."
        if missing:
            text += f" Not seen: {', '.join(sorted(set(missing)))}."
        alarm = alarms.raise_alarm(kind="site_count", text=text, area_id=job.area_id, job=job, actor=actor, now=now)
        alarm_id = alarm.pk
    return SiteCounted(count.pk, len(rows), seen, tuple(sorted(set(missing))), alarm_id)


def counts_of(job_id: int) -> tuple[SiteCountLine, ...]:
    """The job's counts in order of time (1 query)."""
    rows = SiteCount.objects.filter(job_id=job_id).select_related("counted_by").order_by("counted_at", "pk")
    return tuple(
        SiteCountLine(
            row.listed,
            row.seen,
            tuple(row.missing),
            row.counted_at,
            row.recorded_at,
            row.counted_by.get_full_name() or row.counted_by.get_username(),
        )
        for row in rows
    )
