"""What every measure is made of: cases, each with its figure, the day it counts on, and what it can be grouped by."""

from collections.abc import Collection
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from dispatch.models import Stop
from jobs.models import Job

HOUR = 3600.0
DAY = 86400.0


@dataclass(frozen=True)
class Span:
    """The calendar days [`first`, `until`) of one area, seen at `now`: what has not ended counts as far as it got."""

    area_id: int
    zone: ZoneInfo
    first: date
    until: date
    now: datetime
    # What one reading of the span has fetched already, so that measures that ask alike share it.
    read: dict[str, Any] = field(default_factory=dict, compare=False, repr=False)

    @property
    def starts_at(self) -> datetime:
        """The first midnight, by the area's clock."""
        return datetime(self.first.year, self.first.month, self.first.day, tzinfo=self.zone)

    @property
    def ends_at(self) -> datetime:
        """The midnight after the last day, by the area's clock."""
        return datetime(self.until.year, self.until.month, self.until.day, tzinfo=self.zone)

    @property
    def seen_until(self) -> datetime:
        """Up to where the span can be known: its end, or now."""
        return max(self.starts_at, min(self.ends_at, self.now))

    @classmethod
    def month(cls, *, area_id: int, zone: ZoneInfo, year: int, month: int, now: datetime) -> "Span":
        """
        One calendar month.

        :raises ValueError: if there is no such month.
        """
        first = date(year, month, 1)
        return cls(area_id, zone, first, (first + timedelta(days=31)).replace(day=1), now)


@dataclass(frozen=True)
class Case:
    """
    One thing that counts: `part` of `whole`, on the day of `at`.

    `open` has not ended yet, so its part is what has passed so far. `what` says it in words; `group` is the measure's
    own way of telling cases apart (the hour, the class, the cause).
    """

    at: datetime
    part: float
    whole: float = 1.0
    what: str = ""
    open: bool = False
    group: str = ""
    job: str = ""
    call_id: int | None = None
    crew: str = ""
    warehouse: str = ""
    payer: str = ""


@dataclass(frozen=True)
class Label:
    """What a job's cases are grouped by: its number, its payer, and the crew and warehouse of its first stop."""

    job: str = ""
    payer: str = ""
    crew: str = ""
    warehouse: str = ""

    def on(self, case: Case) -> Case:
        """The case with these labels; a crew or warehouse of its own stays."""
        return replace(
            case,
            job=self.job,
            payer=self.payer,
            crew=case.crew or self.crew,
            warehouse=case.warehouse or self.warehouse,
        )


def labels(job_ids: Collection[int]) -> dict[int, Label]:
    """The labels of these jobs (2 queries)."""
    first: dict[int, tuple[str, str]] = {}
    stops = Stop.objects.filter(visit__job__in=job_ids).order_by("-visit__due_on", "-visit_id")
    for job_id, lead, start in stops.values_list("visit__job_id", "crew__lead__name", "crew__start__name"):
        first[job_id] = (lead, start)
    jobs = Job.objects.filter(pk__in=job_ids).values_list("pk", "number", "payer__name")
    return {pk: Label(number, payer or "no payer named", *first.get(pk, ("", ""))) for pk, number, payer in jobs}
