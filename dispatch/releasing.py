"""
Releasing a tired lead in one action: the stops that fall into the rest go to others, where they cost those least.

Promised starts are kept where another crew can keep them. Every customer whose time changes is told, or named as one
to be called; a stop that nobody can take stays due, on nobody's route, and is named with the reason.
"""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from uuid import UUID

from django.contrib.auth.models import User
from django.db import transaction

from dispatch import callouts, crew_facts, departures, handover, release_places, routes
from dispatch.models import Crew, Person, Stop, WorkSpell
from dispatch.release_words import GivenStop, tell_customer, tell_lead
from dispatch.rules import figure
from jobs import journal
from jobs.models import Visit
from jobs.refusals import NotThere, Refusal, Unusable
from jobs.use_case import key_for, use_case

LONGEST = timedelta(hours=72)


class NothingToRelease(Refusal):
    """The lead is on no crew in these hours, so there is nothing to be released from."""

    code = "nothing_to_release"


class LeadAtDoor(Refusal):
    """The lead is at a customer's door: that stop is finished first."""

    code = "lead_at_door"


@dataclass(frozen=True)
class Released:
    """What releasing a lead did: their stops, and other crews' stops that moved to make room."""

    person_id: int
    until: datetime
    crew_ids: tuple[int, ...]
    stops: tuple[GivenStop, ...]
    moved_besides: tuple[GivenStop, ...]
    load_list_ids: tuple[int, ...]


@use_case("release_lead", private=("reason",))
def release_lead(
    *, key: UUID, actor: User, now: datetime, person_id: int, until: datetime | None = None, reason: str = ""
) -> Released:
    """
    Send a lead home to rest until a time (the rule's hours off from now, if none is given) and give away their stops.

    :raises Unusable: if the time has passed, or is more than three days away.
    :raises LeadAtDoor: if they are at work at a stop.
    :raises NothingToRelease: if they lead no crew in these hours.
    """
    rest_until = until or now + timedelta(hours=figure("rest_hours"))
    if not now < rest_until <= now + LONGEST:
        raise Unusable("Say until when they rest: later than now, and at most three days ahead.", where="until")
    person = Person.objects.select_related("area").filter(pk=person_id, active=True).first()
    if person is None:
        raise NotThere("There is no such person. Choose one from the list.", where="person_id")
    crews = _crews_of(person, now, rest_until)
    if not crews:
        raise NothingToRelease(f"{person.name} leads no crew before {_local(person, rest_until)}. Nothing was changed.")
    around = crew_facts.crews_around(area_id=person.area_id, now=now, ahead=rest_until - now + timedelta(hours=12))
    routes.lock_crews({crew.pk for crew in around} | {crew.pk for crew in crews})
    stops = _stops_of(person, crews, rest_until)
    _rest(person, crews, now, rest_until)
    routes.take_off_route([stop.visit_id for stop in stops])
    given: list[GivenStop] = []
    besides: dict[int, GivenStop] = {}
    for stop in stops:
        placed, others = _give(key, actor, now, stop, crews)
        given.append(placed)
        for other in others:
            first = besides.get(other.visit_id)
            besides[other.visit_id] = other if first is None else replace(other, was=first.was)
    for crew in crews:
        for other in _moved(release_places.retime(crew, now=now), crew):
            besides[other.visit_id] = other
    own = {stop.visit_id for stop in stops}
    last = dict(Stop.objects.filter(visit_id__in=own).values_list("visit_id", "start_at"))
    ended = [replace(row, starts_at=last.get(row.visit_id, row.starts_at)) for row in given]
    told = [tell_customer(key, row, now=now) for row in ended]
    told_besides = [tell_customer(key, row, now=now) for pk, row in besides.items() if pk not in own and row.moved]
    lists = _load_lists(key, actor, now, stops, crews, told)
    tell_lead(key, person, until=rest_until, stops=len(stops), now=now)
    for row in (*told, *told_besides):
        _note(row, person, actor, now)
    crew_ids = tuple(crew.pk for crew in crews)
    return Released(person.pk, rest_until, crew_ids, tuple(told), tuple(told_besides), lists)


def _crews_of(person: Person, now: datetime, until: datetime) -> list[Crew]:
    rows = Crew.objects.filter(lead=person, at_latest__gt=now, starts_at__lt=until)
    return list(rows.select_related("lead", "helper", "vehicle", "area", "start", "end").order_by("starts_at"))


def _stops_of(person: Person, crews: list[Crew], until: datetime) -> list[Stop]:
    """Their stops that begin before the rest is over, in the order of their promised starts."""
    stops = list(
        Stop.objects.filter(crew__in=crews)
        .select_related("visit__job__area", "crew__area")
        .order_by("start_at", "position")
    )
    at_door = next((stop for stop in stops if stop.visit.arrived_at and not stop.visit.finished_at), None)
    if at_door is not None and at_door.visit.state == Visit.State.UNDER_WAY:
        number = at_door.visit.job.number
        raise LeadAtDoor(f"{person.name} is at work at {number}. Release them when that stop is finished.", job=number)
    ahead = [stop for stop in stops if stop.visit.state in (Visit.State.DUE, Visit.State.UNDER_WAY)]
    return [stop for stop in ahead if stop.visit.arrived_at is None and stop.start_at < until]


def _rest(person: Person, crews: list[Crew], now: datetime, until: datetime) -> None:
    """Their work ends now; a crew that has begun ends with it, one that begins in the rest begins when it is over."""
    running = WorkSpell.objects.filter(person=person, ends_at__isnull=True)
    if not running.update(ends_at=now):
        WorkSpell.objects.create(person=person, starts_at=min(now, crews[0].starts_at), ends_at=now)
    for crew in crews:
        if crew.starts_at < now:
            crew.ends_at = crew.at_latest = now
        elif until < crew.ends_at:
            crew.starts_at = until
        else:
            continue  # It lies in the rest as a whole: the rule on rest bars it, whoever asks.
        crew.save(update_fields=["starts_at", "ends_at", "at_latest"])


def _give(
    key: UUID, actor: User, now: datetime, stop: Stop, not_to: list[Crew]
) -> tuple[GivenStop, tuple[GivenStop, ...]]:
    visit = stop.visit
    visit.left_at, visit.state = None, Visit.State.DUE
    visit.save(update_fields=["left_at", "state"])
    row = GivenStop(visit.pk, visit.job_id, visit.job.number, None, stop.start_at, None)
    place = release_places.best_place(stop, not_to=not_to, now=now)
    if place.crew is None:
        return replace(row, why=place.why), ()
    if visit.kind == Visit.Kind.EMERGENCY:
        # The crew that takes it brings the equipment and is asked first, as for every emergency.
        try:
            with transaction.atomic():
                handover.give_visit(visit=visit, crew=place.crew, actor=actor, now=now)
        except routes.RouteFull as full:
            return replace(row, why=full.message), ()
        callouts.cancel(visit=visit, now=now)
        callouts.start(key=key, actor=actor, now=now, crew=place.crew, visit=visit)
        return replace(row, crew_id=place.crew.pk, starts_at=Stop.objects.get(visit=visit).start_at), ()
    others = _moved(release_places.put(visit, place=place), place.crew, but=visit.pk)
    return replace(row, crew_id=place.crew.pk, starts_at=Stop.objects.get(visit=visit).start_at), others


def _moved(moves: tuple[routes.Moved, ...], crew: Crew, *, but: int = 0) -> tuple[GivenStop, ...]:
    visits = Visit.objects.select_related("job").in_bulk([move.visit_id for move in moves])
    return tuple(
        GivenStop(
            move.visit_id, visits[move.visit_id].job_id, visits[move.visit_id].job.number, crew.pk, move.was, move.now
        )
        for move in moves
        if move.visit_id != but
    )


def _load_lists(
    key: UUID, actor: User, now: datetime, stops: list[Stop], crews: list[Crew], given: list[GivenStop]
) -> tuple[int, ...]:
    """What the stops bring goes onto the vehicles that bring it now."""
    bring = {stop.visit_id for stop in stops if stop.visit.needs.get("deliver")}
    takers = {row.crew_id for row in given if row.crew_id is not None and row.visit_id in bring}
    if not takers:
        return ()
    rows = Crew.objects.filter(pk__in=takers | {crew.pk for crew in crews}).order_by("pk")
    return departures.write(key=key_for(key, "loads"), actor=actor, now=now, crews=list(rows))


def _note(row: GivenStop, person: Person, actor: User, now: datetime) -> None:
    visit = Visit.objects.select_related("job").get(pk=row.visit_id)
    data = {
        "visit": row.visit_id,
        "person": person.pk,
        "to_crew": row.crew_id,
        "was": row.was.isoformat(),
        "starts_at": None if row.starts_at is None else row.starts_at.isoformat(),
        "notice": row.notice_id,
    }
    journal.note(kind="lead_released", actor=actor, now=now, job=visit.job, data=data)


def _local(person: Person, at: datetime) -> str:
    return f"{at.astimezone(person.area.zone):%a %-I:%M %p}"
