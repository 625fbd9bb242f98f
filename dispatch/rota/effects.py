"""What a change of the rota does to a night: who is not rested, and which work has no lead left or only one."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise

from django.db import transaction
from django.db.models import Q

from dispatch import crew_facts, eligibility
from dispatch.models import Person, Shift, WorkSpell
from dispatch.rota.nights import NightHours
from dispatch.rules import figure
from dispatch.single_points import Coverage, coverage, crews_of_night, words_of
from jobs.models import Area


@dataclass(frozen=True)
class NightEffect:
    """One night after the change: each list holds only what the change brings about."""

    night_of: str
    not_rested: tuple[str, ...]
    barred: tuple[str, ...]
    lost: tuple[str, ...]
    single: tuple[str, ...]
    gained: tuple[str, ...]

    @property
    def night_words(self) -> str:
        """The day on which the night begins, as a page says it."""
        day = date.fromisoformat(self.night_of)
        return f"{day:%A, %b} {day.day}"

    @property
    def quiet(self) -> bool:
        """Whether the night is as it was."""
        return not (self.not_rested or self.barred or self.lost or self.single or self.gained)


@dataclass(frozen=True)
class RotaEffect:
    """What the change did in words, and what it does to each night that it touches."""

    did: tuple[str, ...]
    nights: tuple[NightEffect, ...]


@dataclass(frozen=True)
class _Picture:
    barred: frozenset[str]
    covered: dict[tuple[str, str], Coverage]
    tired: frozenset[str]


def compare(
    apply: Callable[[], Sequence[str]],
    *,
    area: Area,
    nights: Sequence[NightHours],
    people: Sequence[Person],
    now: datetime,
) -> RotaEffect:
    """Do the change and tell what it does; in the caller's transaction."""
    before = [_picture(area, night, people, now) for night in nights]
    did = tuple(apply())
    after = [_picture(area, night, people, now) for night in nights]
    return RotaEffect(did, tuple(map(_effect, nights, before, after)))


def tried(
    apply: Callable[[], Sequence[str]],
    *,
    area: Area,
    nights: Sequence[NightHours],
    people: Sequence[Person],
    now: datetime,
) -> RotaEffect:
    """What the change would do: done and taken back, so that it is judged by the same rows as the real one."""
    with transaction.atomic():
        effect = compare(apply, area=area, nights=nights, people=people, now=now)
        transaction.set_rollback(True)
    return effect


def _picture(area: Area, night: NightHours, people: Sequence[Person], now: datetime) -> _Picture:
    rows = crew_facts.rows_of(crews_of_night(area, night, now=now), now=now)
    barred = {
        f"{row.crew.name} cannot go: {reason.message}"
        for row in rows
        for reason in eligibility.all_unfit(row.facts, at=max(now, row.crew.starts_at))
    }
    covered = {(line.work, line.state): line for line in coverage(rows, area=area, now=now)}
    return _Picture(frozenset(barred), covered, frozenset(short_rests(people, area=area, night=night)))


def _effect(night: NightHours, before: _Picture, after: _Picture) -> NightEffect:
    lost, single, gained = [], [], []
    for key, line in after.covered.items():
        was = len(before.covered[key].crews) if key in before.covered else 0
        if was and not line.crews:
            lost.append(words_of(line))
        elif was > 1 and len(line.crews) == 1:
            single.append(words_of(line))
        elif not was and line.crews:
            gained.append(words_of(line))
    return NightEffect(
        night_of=night.of.isoformat(),
        not_rested=tuple(sorted(after.tired - before.tired)),
        barred=tuple(sorted(after.barred - before.barred)),
        lost=tuple(lost),
        single=tuple(single),
        gained=tuple(gained),
    )


def short_rests(people: Sequence[Person], *, area: Area, night: NightHours) -> list[str]:
    """Each break around a night that is shorter than the rest asked for, in words; being on call at home is no work."""
    rest, day = timedelta(hours=figure("rest_hours")), timedelta(days=1)
    ids = [person.pk for person in people]
    near = Q(starts_at__lt=night.ends_at + day, ends_at__gt=night.starts_at - day)
    shifts = Shift.objects.filter(near, person_id__in=ids).exclude(kind=Shift.Kind.ON_CALL)
    spells = WorkSpell.objects.filter(near, person_id__in=ids)
    found = []
    for person in people:
        spans = [(row.starts_at, row.ends_at) for row in shifts if row.person_id == person.pk]
        spans += [(row.starts_at, row.ends_at) for row in spells if row.person_id == person.pk and row.ends_at]
        for (_, ends), (starts, _) in _gaps(spans):
            if timedelta(0) < starts.astimezone(UTC) - ends.astimezone(UTC) < rest:
                hours = (starts - ends).total_seconds() / 3600
                local = [moment.astimezone(area.zone) for moment in (ends, starts)]
                found.append(
                    f"{person.name} has {hours:.1f} of {figure('rest_hours')} hours off between "
                    f"{local[0]:%a %-I:%M %p} and {local[1]:%a %-I:%M %p}."
                )
    return found


def _gaps(
    spans: list[tuple[datetime, datetime]],
) -> list[tuple[tuple[datetime, datetime], tuple[datetime, datetime]]]:
    """Neighbors in time, where spans that meet count as one."""
    merged: list[tuple[datetime, datetime]] = []
    for start, end in sorted(spans):
        if merged and start <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(end, merged[-1][1]))
        else:
            merged.append((start, end))
    return list(pairwise(merged))
