"""Giving a visit from one crew to another: the route, the promises and the load list go with it."""

from copy import copy
from datetime import datetime, timedelta

from django.contrib.auth.models import User

from dispatch import crew_facts, eligibility, outfit, routes, snapshot
from dispatch.models import CallOut, Crew, Person, Stop
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
    """Whether the person, with the crew they would go with, may do this work in this state."""
    crew = crew_of(person, asked=call_out.crew, now=now)
    facts = crew_facts.rows_of([crew], now=now)[0].facts
    wanted = call_out.visit.needs.get("skills", ["water"])
    on = now.astimezone(call_out.area.zone).date()
    reasons = (
        eligibility.why_not_fit(facts, at=now),
        eligibility.why_not_skilled(facts, wanted, on=on),
        eligibility.why_not_in_state(facts, call_out.visit.job.state),
    )
    return not any(reasons)


def give_visit(*, visit: Visit, crew: Crew, actor: User, now: datetime) -> None:
    """
    Move a visit onto another crew's route where it costs that route least, with what it brings.

    Call inside a transaction.

    :raises RouteFull: if the crew's hours leave no room for it.
    """
    old = Stop.objects.filter(visit=visit).first()
    routes.lock_crews({crew.pk} if old is None else {crew.pk, old.crew_id})
    routes.take_off_route([visit.pk])
    row = crew_facts.rows_of([crew], now=now)[0]
    shot = snapshot.build(
        area=crew.area, day=crew.service_day, now=now, rows=[row], visits=[visit], keep=False, soft=True
    )
    routes.write_route(snapshot=shot, route=routes.with_visit(shot, crew_id=crew.pk, visit_id=visit.pk))
    outfit.refit(visit=visit, crew=crew, actor=actor, now=now)
    journal.note(
        kind="visit_given",
        actor=actor,
        now=now,
        job=visit.job,
        data={"visit": visit.pk, "from_crew": None if old is None else old.crew_id, "to_crew": crew.pk},
    )
