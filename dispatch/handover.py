"""Giving a visit from one crew to another: the route, the promises and the load list go with it."""

from datetime import datetime, timedelta

from django.contrib.auth.models import User

from dispatch import crew_facts, routes, snapshot
from dispatch.models import CallOut, Crew, Person, Stop
from dispatch.planner.construct import cheapest_place, locked
from jobs import journal
from jobs.models import Visit


def crew_of(person: Person, *, call_out: CallOut, now: datetime) -> Crew:
    """
    The crew with which the person goes: the asked one if it is theirs, else their own crew of these hours.

    Somebody without a crew takes the asked crew's vehicle: they become its lead.
    """
    asked = call_out.crew
    if asked.lead_id == person.pk:
        return asked
    own = (
        Crew.objects.filter(lead=person, starts_at__lt=now + timedelta(hours=2), at_latest__gt=now)
        .order_by("starts_at")
        .first()
    )
    if own is not None:
        return own
    asked.lead = person
    asked.save(update_fields=["lead"])
    return asked


def give_visit(*, visit: Visit, crew: Crew, actor: User, now: datetime) -> None:
    """Move a visit onto another crew's route, where it costs that route least. Call inside a transaction."""
    old = Stop.objects.filter(visit=visit).first()
    routes.take_off_route([visit.pk])
    row = crew_facts.rows_of(crew_facts.crews_by_id([crew.pk]), now=now)[0]
    shot = snapshot.build(
        area=crew.area, day=crew.service_day, now=now, rows=[row], visits=[visit], keep=False, soft=True
    )
    route = routes.with_visit(shot, crew_id=crew.pk, visit_id=visit.pk)
    routes.write_route(snapshot=shot, route=route)
    journal.note(
        kind="visit_given",
        actor=actor,
        now=now,
        job=visit.job,
        data={"visit": visit.pk, "from_crew": old.crew_id if old else None, "to_crew": crew.pk},
    )


__all__ = ["cheapest_place", "crew_of", "give_visit", "locked"]
