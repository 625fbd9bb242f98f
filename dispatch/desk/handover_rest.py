"""Who is short of rest: since when they work or have been off, from when they may go, and what they stand down for."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from django.db.models import Q

from dispatch.models import Crew, Shift, WorkSpell
from dispatch.rules import figure
from jobs.models import Area

# Whoever has been on duty for so long is named, whatever they do next (common practice, no source).
LONG_HOURS = 12


@dataclass(frozen=True)
class RestLine:
    """One person who works now or has not had their hours off yet."""

    name: str
    working: bool
    since: datetime
    hours: float
    rested_at: datetime
    next_work_at: datetime | None
    before_next_work: bool

    @property
    def said(self) -> str:
        """How long, in words."""
        return f"on duty for {self.hours:.0f} h" if self.working else f"off for {self.hours:.0f} h"


def short_of_rest(*, area: Area, now: datetime, ahead: timedelta = timedelta(hours=36)) -> tuple[RestLine, ...]:
    """
    Who is not rested, has worked long, or starts too early next; those first who start too early (3 queries).

    Whoever works is counted as off from the planned end of the crew that they work with, else from now.
    """
    rest = timedelta(hours=figure("rest_hours"))
    spells = (
        WorkSpell.objects.filter(
            Q(ends_at__isnull=True) | Q(ends_at__gt=now - rest), person__area=area, starts_at__lte=now
        )
        .select_related("person")
        .order_by("person__name", "starts_at")
    )
    newest = {spell.person_id: spell for spell in spells}
    crews = Crew.objects.filter(area=area, ends_at__gt=now, starts_at__lt=now + ahead).filter(
        Q(lead__in=newest) | Q(helper__in=newest)
    )
    ends: dict[int, datetime] = {}
    starts: dict[int, list[datetime]] = defaultdict(list)
    for crew in crews:
        for person_id in (crew.lead_id, crew.helper_id):
            if person_id is None:
                continue
            if crew.starts_at <= now:
                ends[person_id] = crew.ends_at
            else:
                starts[person_id].append(crew.starts_at)
    for shift in Shift.objects.filter(person__in=newest, starts_at__gt=now, starts_at__lt=now + ahead):
        starts[shift.person_id].append(shift.starts_at)
    lines = []
    for person_id, spell in newest.items():
        working = spell.ends_at is None
        off_from = ends.get(person_id, now) if spell.ends_at is None else spell.ends_at
        rested, coming = off_from + rest, min(starts[person_id], default=None)
        since = spell.starts_at if spell.ends_at is None else spell.ends_at
        hours = (now.astimezone(UTC) - since.astimezone(UTC)).total_seconds() / 3600
        early = coming is not None and coming < rested
        if early or not working or hours >= LONG_HOURS:
            lines.append(RestLine(spell.person.name, working, since, hours, rested, coming, early))
    return tuple(sorted(lines, key=lambda line: (not line.before_next_work, line.name)))
