"""Hours: driving against paid time, overtime and short rest, counted from the hours really worked."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import pairwise

from django.db.models import Q

from dispatch.measures.cases import HOUR, Case, Span
from dispatch.models import Stop, WorkSpell
from dispatch.rules import figure


@dataclass(frozen=True)
class _Spell:
    person_id: int
    name: str
    warehouse: str
    state: str
    starts_at: datetime
    ends_at: datetime
    open: bool


def _spells(span: Span, starts_at: datetime) -> list[_Spell]:
    """Spells of work that touch [`starts_at`, the span's end), by person and time; a running one ends now."""
    rows = WorkSpell.objects.filter(person__area=span.area_id, starts_at__lt=span.seen_until).filter(
        Q(ends_at__isnull=True) | Q(ends_at__gt=starts_at)
    )
    fields = ("person_id", "person__name", "person__home__name", "person__home__state", "starts_at", "ends_at")
    return [
        _Spell(pk, name, warehouse, state, began, ended or span.now, ended is None)
        for pk, name, warehouse, state, began, ended in rows.order_by("person_id", "starts_at").values_list(*fields)
    ]


def _seconds(spell: _Spell, starts_at: datetime, ends_at: datetime) -> float:
    return max(0.0, (min(spell.ends_at, ends_at) - max(spell.starts_at, starts_at)).total_seconds())


def drive_share(span: Span) -> list[Case]:
    """Of a lead's paid hours in the span, the hours from leaving for a stop to its door (2 queries)."""
    driven: dict[int, float] = defaultdict(float)
    stops = Stop.objects.filter(
        crew__area=span.area_id,
        visit__left_at__isnull=False,
        visit__arrived_at__isnull=False,
        visit__left_at__gte=span.starts_at,
        visit__left_at__lt=span.ends_at,
    )
    for lead, left, there in stops.values_list("crew__lead_id", "visit__left_at", "visit__arrived_at"):
        assert left is not None
        assert there is not None
        driven[lead] += max(0.0, (there - left).total_seconds())
    paid: dict[int, float] = defaultdict(float)
    who: dict[int, _Spell] = {}
    for spell in _spells(span, span.starts_at):
        paid[spell.person_id] += _seconds(spell, span.starts_at, span.seen_until)
        who[spell.person_id] = spell
    return [
        Case(
            span.starts_at,
            driven[person] / HOUR,
            paid[person] / HOUR,
            what=f"{driven[person] / HOUR:.1f} h of driving in {paid[person] / HOUR:.1f} h paid",
            crew=spell.name,
            warehouse=spell.warehouse,
        )
        for person, spell in sorted(who.items(), key=lambda item: (item[1].name, item[0]))
        if driven[person] > 0
    ]


def _week_of(at: datetime, span: Span) -> date:
    day = at.astimezone(span.zone).date()
    return day - timedelta(days=day.weekday())


def overtime(span: Span) -> list[Case]:
    """Hours worked beyond the week's limit, per person and week whose Monday lies in the span (1 query)."""
    limit_s = figure("overtime_week_hours") * HOUR
    first = span.first + timedelta(days=-span.first.weekday() % 7)
    worked: dict[tuple[int, date], float] = defaultdict(float)
    who: dict[int, _Spell] = {}
    spells = _spells(span, span.starts_at)
    monday = first
    while monday < span.until:
        week = Span(span.area_id, span.zone, monday, monday + timedelta(days=7), span.now)
        for spell in spells:
            worked[spell.person_id, monday] += _seconds(spell, week.starts_at, min(week.ends_at, span.now))
            who[spell.person_id] = spell
        monday += timedelta(days=7)
    return [
        Case(
            Span(span.area_id, span.zone, week_of, week_of, span.now).starts_at,
            (seconds - limit_s) / HOUR,
            what=f"{seconds / HOUR:.1f} h in the week from {week_of:%b} {week_of.day}",
            group=who[person].state,
            crew=who[person].name,
            warehouse=who[person].warehouse,
        )
        for (person, week_of), seconds in sorted(worked.items(), key=lambda item: (item[0][1], who[item[0][0]].name))
        if seconds > limit_s
    ]


def rest_breaches(span: Span) -> list[Case]:
    """Times that somebody began work with less rest since the last than the rule asks (1 query)."""
    least_s = figure("rest_hours") * HOUR
    by_person: dict[int, list[_Spell]] = defaultdict(list)
    for spell in _spells(span, span.starts_at - timedelta(seconds=least_s)):
        by_person[spell.person_id].append(spell)
    cases = []
    for spells in by_person.values():
        for before, after in pairwise(spells):
            rest_s = (after.starts_at - before.ends_at).total_seconds()
            # Work that goes on after a break of minutes is one day's work; see `BREAK_S`.
            if BREAK_S < rest_s < least_s and after.starts_at >= span.starts_at:
                words = f"{rest_s / HOUR:.1f} h of rest"
                cases.append(
                    Case(
                        after.starts_at, 1.0, what=words, group=after.state, crew=after.name, warehouse=after.warehouse
                    )
                )
    return sorted(cases, key=lambda case: (case.at, case.crew))


# A gap that is no rest but a meal or a hand-over: two spells of one day (company setting).
BREAK_S = 2 * HOUR
