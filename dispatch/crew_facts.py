"""Reading crews with everything that eligibility and routes ask of them, in a fixed number of queries."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Q

from dispatch.eligibility import CrewFacts, HeldCard, Member
from dispatch.models import Card, Crew, FirmLicense, Person, Stop, WorkSpell


@dataclass(frozen=True)
class CrewRow:
    """One crew with its facts and the stops on its route, in order."""

    crew: Crew
    facts: CrewFacts
    stops: tuple[Stop, ...]


def crews_of_day(*, area_id: int, day: date) -> list[Crew]:
    """The crews of one service day."""
    return list(_with_all().filter(area_id=area_id, service_day=day))


def crews_around(*, area_id: int, now: datetime, ahead: timedelta = timedelta(hours=10)) -> list[Crew]:
    """Crews at work now, or starting soon enough to matter tonight."""
    return list(_with_all().filter(area_id=area_id, starts_at__lt=now + ahead, at_latest__gt=now))


def rows_of(crews: Sequence[Crew], *, now: datetime) -> list[CrewRow]:
    """
    Facts and stops of the crews: four queries, however many crews.

    What was worked is read from the hours themselves (`WorkSpell`); a running spell means awake since its start.
    """
    people = {person.pk: person for crew in crews for person in (crew.lead, crew.helper) if person is not None}
    cards: dict[int, list[HeldCard]] = defaultdict(list)
    for card in Card.objects.filter(person_id__in=people):
        cards[card.person_id].append(HeldCard(card.kind, card.state, card.expires_on))
    spells: dict[int, list[WorkSpell]] = defaultdict(list)
    recent = WorkSpell.objects.filter(person_id__in=people).filter(
        Q(ends_at__isnull=True) | Q(ends_at__gt=now - timedelta(days=3))
    )
    for spell in recent.order_by("starts_at"):
        spells[spell.person_id].append(spell)
    areas = {crew.area_id for crew in crews}
    licenses = list(FirmLicense.objects.filter(area_id__in=areas))
    stops: dict[int, list[Stop]] = defaultdict(list)
    for stop in (
        Stop.objects.filter(crew__in=crews).select_related("visit__job", "fetch_from").order_by("crew_id", "position")
    ):
        stops[stop.crew_id].append(stop)
    rows = []
    for crew in crews:
        firm = frozenset(
            row.state
            for row in licenses
            if row.area_id == crew.area_id and (row.expires_on is None or row.expires_on >= crew.service_day)
        )
        facts = CrewFacts(
            lead=_member(crew.lead, cards, spells, crew.starts_at),
            helper=None if crew.helper is None else _member(crew.helper, cards, spells, crew.starts_at),
            gvwr_lb=crew.vehicle.gvwr_lb,
            vehicle_name=crew.vehicle.name,
            vehicle_in_workshop=crew.vehicle.in_workshop,
            starts_at=crew.starts_at,
            firm_states=firm,
            time_zone=crew.area.time_zone,
        )
        rows.append(CrewRow(crew, facts, tuple(stops[crew.pk])))
    return rows


def _with_all():  # type: ignore[no-untyped-def]  # a queryset whose exact type django-stubs cannot spell here
    return Crew.objects.select_related(
        "lead", "lead__user", "helper", "vehicle", "vehicle__holder", "start", "end", "area"
    ).order_by("service_day", "name")


def _member(
    person: Person, cards: dict[int, list[HeldCard]], spells: dict[int, list[WorkSpell]], starts_at: datetime
) -> Member:
    ended = [spell.ends_at for spell in spells[person.pk] if spell.ends_at is not None and spell.ends_at <= starts_at]
    running = [spell.starts_at for spell in spells[person.pk] if spell.ends_at is None]
    return Member(
        name=person.name,
        cards=tuple(cards[person.pk]),
        last_worked_until=max(ended, default=None),
        awake_since=min(running, default=None),
    )
