"""Reading crews with everything that eligibility and routes ask of them, in a fixed number of queries."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Q

from dispatch.eligibility import CrewFacts, HeldCard, Member
from dispatch.models import Card, Crew, FirmLicense, Person, Shift, Stop, WorkSpell
from dispatch.overrides import Overridden, in_force
from dispatch.rules import requirements

# Rest older than this bars nobody.
LOOK_BACK = timedelta(days=3)


@dataclass(frozen=True)
class CrewRow:
    """
    One crew with its facts, the stops on its route in order, and what managers have overridden for it.

    `on` is the day on which its cards are asked for: its service day, or the next once midnight has passed.
    """

    crew: Crew
    facts: CrewFacts
    stops: tuple[Stop, ...]
    on: date
    overrides: tuple[Overridden, ...] = ()


def crews_of_day(*, area_id: int, day: date) -> list[Crew]:
    """The crews of one service day."""
    return list(_with_all().filter(area_id=area_id, service_day=day))


def crews_around(*, area_id: int, now: datetime, ahead: timedelta = timedelta(hours=10)) -> list[Crew]:
    """Crews at work now, or starting soon enough to matter tonight."""
    return list(_with_all().filter(area_id=area_id, starts_at__lt=now + ahead, at_latest__gt=now))


def crews_between(*, area_id: int, until_after: datetime, from_before: datetime) -> list[Crew]:
    """Our own crews that are still at work after one moment and begin before another."""
    ours = _with_all().filter(area_id=area_id, loan=None)
    return list(ours.filter(starts_at__lte=from_before, ends_at__gte=until_after))


def lent_crews(*, area_id: int) -> list[Crew]:
    """Crews of loans that were not ended, whenever they work."""
    return list(_with_all().filter(area_id=area_id, loan__isnull=False))


def rows_of(crews: Sequence[Crew], *, now: datetime) -> list[CrewRow]:
    """
    Facts and stops of the crews: seven queries, however many crews.

    What was worked is read from the hours themselves (`WorkSpell`); a running spell means awake since its start.
    What the rota had before a crew begins counts as worked, and so does every visit up to its end; being on call at
    home is no work.
    """
    people = {person.pk: person for crew in crews for person in (crew.lead, crew.helper) if person is not None}
    cards: dict[int, list[HeldCard]] = defaultdict(list)
    for card in Card.objects.filter(person_id__in=people):
        cards[card.person_id].append(HeldCard(card.kind, card.state, card.expires_on))
    spells: dict[int, list[WorkSpell]] = defaultdict(list)
    recent = WorkSpell.objects.filter(person_id__in=people).filter(
        Q(ends_at__isnull=True) | Q(ends_at__gt=now - LOOK_BACK)
    )
    for spell in recent.order_by("starts_at"):
        spells[spell.person_id].append(spell)
    ended = _ends_of_work(set(people), since=now - LOOK_BACK, until=max((one.starts_at for one in crews), default=now))
    areas = {crew.area_id for crew in crews}
    licenses = list(FirmLicense.objects.filter(area_id__in=areas))
    # A certification for one kind of work is no license to work in the state at all.
    for_one_work = {requirement.card for requirement in requirements() if requirement.who == "firm"}
    stops: dict[int, list[Stop]] = defaultdict(list)
    for stop in (
        Stop.objects.filter(crew__in=crews).select_related("visit__job", "fetch_from").order_by("crew_id", "position")
    ):
        stops[stop.crew_id].append(stop)
    words = in_force(crews, now=now)
    rows = []
    for crew in crews:
        on = max(crew.service_day, now.astimezone(crew.area.zone).date())
        # A lent crew works under the licenses of the firm that lends it.
        ours = [
            HeldCard(row.kind, row.state, row.expires_on)
            for row in licenses
            if (row.area_id, row.loan_id) == (crew.area_id, crew.loan_id)
        ]
        firm = frozenset(
            card.state
            for card in ours
            if card.kind not in for_one_work and (card.expires_on is None or card.expires_on >= on)
        )
        facts = CrewFacts(
            lead=_member(crew.lead, cards, spells, ended, crew.starts_at),
            helper=None if crew.helper is None else _member(crew.helper, cards, spells, ended, crew.starts_at),
            gvwr_lb=crew.vehicle.gvwr_lb,
            vehicle_name=crew.vehicle.name,
            vehicle_in_workshop=crew.vehicle.in_workshop,
            starts_at=crew.starts_at,
            firm_states=firm,
            time_zone=crew.area.time_zone,
            firm_cards=tuple(ours),
        )
        rows.append(CrewRow(crew, facts, tuple(stops[crew.pk]), on, words.get(crew.pk, ())))
    return rows


def _ends_of_work(people: set[int], *, since: datetime, until: datetime) -> dict[int, list[datetime]]:
    """When work ended by the rota and by the visits that were finished, by person (2 queries)."""
    found: dict[int, list[datetime]] = defaultdict(list)
    shifts = Shift.objects.filter(person_id__in=people, ends_at__gt=since, ends_at__lte=until)
    for person_id, ends_at in shifts.exclude(kind=Shift.Kind.ON_CALL).values_list("person_id", "ends_at"):
        found[person_id].append(ends_at)
    stops = Stop.objects.filter(Q(crew__lead_id__in=people) | Q(crew__helper_id__in=people))
    done = stops.filter(visit__finished_at__gt=since, visit__finished_at__lte=until)
    for lead_id, helper_id, at in done.values_list("crew__lead_id", "crew__helper_id", "visit__finished_at"):
        for person_id in (lead_id, helper_id):
            if person_id is not None and at is not None:
                found[person_id].append(at)
    return found


def _with_all():  # type: ignore[no-untyped-def]  # a queryset whose exact type django-stubs cannot spell here
    return (
        Crew.objects.filter(loan__ended_at=None)
        .select_related(
            "lead",
            "lead__user",
            "helper",
            "vehicle",
            "vehicle__holder",
            "start",
            "end",
            "area",
            "phone_position",
            "loan",
        )
        .order_by("service_day", "name")
    )


def _member(
    person: Person,
    cards: dict[int, list[HeldCard]],
    spells: dict[int, list[WorkSpell]],
    work_ended: dict[int, list[datetime]],
    starts_at: datetime,
) -> Member:
    ended = [spell.ends_at for spell in spells[person.pk] if spell.ends_at is not None and spell.ends_at <= starts_at]
    ended += [end for end in work_ended[person.pk] if end <= starts_at]
    running = [spell.starts_at for spell in spells[person.pk] if spell.ends_at is None]
    return Member(
        name=person.name,
        cards=tuple(cards[person.pk]),
        last_worked_until=max(ended, default=None),
        awake_since=min(running, default=None),
    )
