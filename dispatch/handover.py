"""Giving a visit from one crew to another: the route, the promises and the load list go with it."""

from copy import copy
from datetime import datetime, timedelta

from django.contrib.auth.models import User

from dispatch import additions, agreed, crew_facts, outfit, routes, snapshot
from dispatch.models import CallOut, Crew, Person, Stop
from equipment.models import Warehouse
from jobs import journal
from jobs.models import Visit


def crew_of(person: Person, *, asked: Crew, now: datetime) -> Crew:
    """The crew with which the person would go: their own of these hours, else the asked one with them as its lead."""
    if asked.lead_id == person.pk:
        return asked
    own = (
        Crew.objects.filter(lead=person, starts_at__lt=now + timedelta(hours=2), at_latest__gt=now)
        .order_by("starts_at")
        .first()
    )
    if own is not None:
        return own
    # A copy: whether they may go is asked before they say yes.
    taken_over = copy(asked)
    taken_over.lead = person
    return taken_over


def may_go(person: Person, *, call_out: CallOut, now: datetime) -> bool:
    """Whether the person, with the crew they would go with, may do this work in this state, or a manager says so."""
    crew = crew_of(person, asked=call_out.crew, now=now)
    row = crew_facts.rows_of([crew], now=now)[0]
    job = call_out.visit.job
    work = agreed.Work(tuple(call_out.visit.needs.get("skills", ["water"])), job.state, job_id=job.pk)
    return not agreed.reasons(row, work, now=now) or agreed.word_for(row, work, now=now) is not None


def give_visit(*, visit: Visit, crew: Crew, actor: User, now: datetime) -> None:
    """
    Move a visit onto another crew's route where it costs that route least, with what it brings.

    Call inside a transaction.

    :raises RouteFull: if the crew's hours leave no room for it.
    """
    old = Stop.objects.filter(visit=visit).first()
    routes.lock_crews({crew.pk} if old is None else {crew.pk, old.crew_id})
    routes.take_off_route([visit.pk])
    brought = outfit.refit(visit=visit, crew=crew, actor=actor, now=now)
    # What is not aboard is loaded where the crew starts; the route must have the time for it.
    fetch = None if brought is None or brought.load_list_id is None else crew.start
    put_on_route(crew=crew, visit_id=visit.pk, fetch=fetch, now=now)
    journal.note(
        kind="visit_given",
        actor=actor,
        now=now,
        job=visit.job,
        data={"visit": visit.pk, "from_crew": None if old is None else old.crew_id, "to_crew": crew.pk},
    )


def put_on_route(*, crew: Crew, visit_id: int, fetch: Warehouse | None, now: datetime) -> datetime:
    """
    Put a visit onto a crew's route where it costs that route least, with the detour that it needs; when work starts.

    Call inside a transaction.

    :raises RouteFull: if the crew's hours leave no room for it.
    """
    routes.lock_crews([crew.pk])
    row = crew_facts.rows_of([crew], now=now)[0]
    visit = Visit.objects.select_related("job").get(pk=visit_id)
    shot = snapshot.build(
        area=crew.area, day=crew.service_day, now=now, rows=[row], visits=[visit], keep=False, soft=True
    )
    detour = None if fetch is None else additions.add_detour(shot, crew_id=crew.pk, visit_id=visit_id, warehouse=fetch)
    route = routes.with_visit(shot, crew_id=crew.pk, visit_id=visit_id, fetch=detour)
    routes.write_route(snapshot=shot, route=route, fetches={} if fetch is None else {visit_id: fetch})
    return next(shot.at(stop.start_s) for stop in route.stops if stop.visit == snapshot.visit_key(visit_id))
