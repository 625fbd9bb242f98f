"""A lead's own hours: labor on site, time out, rest before and after."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from dispatch.models import Crew, Shift, WorkSpell
from dispatch.rules import figure

_HOUR = timedelta(hours=1)


@dataclass(frozen=True)
class Spent:
    """One stop as far as it went: where, and when the crew left for it, came and was done."""

    place: str
    left_at: datetime | None
    arrived_at: datetime | None
    finished_at: datetime | None


@dataclass(frozen=True)
class MyHours:
    """Hours of the day of one lead; rest in hours, None where nothing is known of the day before or after."""

    on_site_min: int
    out_since: datetime | None
    rested_h: float | None
    next_starts_at: datetime | None
    next_rest_h: float | None
    rest_needed_h: float
    next_on_call_at: datetime | None

    @property
    def short_rest(self) -> bool:
        """Whether too little rest lies before this shift, or after it."""
        return any(rest is not None and rest < self.rest_needed_h for rest in (self.rested_h, self.next_rest_h))


def my_hours(*, crew: Crew, spent: Sequence[Spent], now: datetime) -> MyHours:
    """The hours of the crew's lead on this day (4 queries)."""
    lead = crew.lead
    spells = WorkSpell.objects.filter(person=lead, ends_at__lte=crew.starts_at).order_by("-ends_at")
    crews = Crew.objects.filter(lead=lead)
    ended = [
        at
        for at in (
            spells.values_list("ends_at", flat=True).first(),
            crews.filter(ends_at__lte=crew.starts_at).order_by("-ends_at").values_list("ends_at", flat=True).first(),
        )
        if at is not None
    ]
    next_at = (
        crews.filter(starts_at__gte=crew.ends_at).order_by("starts_at").values_list("starts_at", flat=True).first()
    )
    on_call = Shift.objects.filter(person=lead, kind=Shift.Kind.ON_CALL, starts_at__gt=now).order_by("starts_at")
    left = [each.left_at or each.arrived_at for each in spent]
    return MyHours(
        on_site_min=labor_min(spent, now),
        out_since=min((at for at in left if at is not None), default=None),
        rested_h=_hours(max(ended), crew.starts_at) if ended else None,
        next_starts_at=next_at,
        next_rest_h=None if next_at is None else _hours(max(crew.ends_at, min(now, next_at)), next_at),
        rest_needed_h=figure("rest_hours"),
        next_on_call_at=on_call.values_list("starts_at", flat=True).first(),
    )


def labor_min(spent: Sequence[Spent], now: datetime) -> int:
    """Minutes on site, of every stop reached so far; one that goes on counts until now, two at once count once."""
    total, until = timedelta(), None
    for start, end in sorted(
        (each.arrived_at, each.finished_at or now) for each in spent if each.arrived_at is not None
    ):
        begin = start if until is None else max(start, until)
        total += max(timedelta(), end - begin)
        until = end if until is None else max(end, until)
    return int(total / timedelta(minutes=1))


def _hours(start: datetime, end: datetime) -> float:
    return round((end - start) / _HOUR, 1)
