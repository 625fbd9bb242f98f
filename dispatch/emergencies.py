"""Sending a crew to an emergency: everything that must happen together, in one transaction."""

from collections import Counter
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.contrib.auth.models import User

from dispatch import callouts, handover, loads, outfit, stabilizing
from dispatch.models import Crew
from dispatch.offering import offers
from dispatch.rules import figure
from dispatch.stabilizing import Returning
from dispatch.wanted import loss_of, wanted_for
from equipment.models import Vehicle, Warehouse
from jobs import clocks, intake, journal, opening
from jobs.models import Call, Job, Visit
from jobs.refusals import Refusal
from jobs.use_case import key_for, use_case
from jobs.visits import add_visit


class CrewCannotGo(Refusal):
    """The chosen crew cannot take this call; the reason is the one that the list of crews shows."""

    code = "crew_cannot_go"


@dataclass(frozen=True)
class Sent:
    """What sending did."""

    job_id: int
    job_number: str
    visit_id: int
    crew_id: int
    call_out_id: int
    sizing_id: int
    arrive_at: datetime
    held: tuple[dict[str, Any], ...]
    short: tuple[dict[str, Any], ...]
    load_list_id: int | None
    second_load: dict[str, int]
    returns: Returning | None = None


@use_case("send")
def send(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    call_id: int,
    crew_id: int,
    because: str = "",
    stabilize: bool = False,
) -> Sent:
    """
    Send a crew: opens the job, holds the equipment, puts the visit on the route, writes the load list, asks the crew.

    With `stabilize` it brings no more than a stabilizing visit leaves, and the return with the rest is booked.

    :raises NotEnoughYet: if the call lacks what a crew needs (jobs.opening).
    :raises CrewCannotGo: if the crew is not on the list of those that can.
    """
    found = offers(call_id=call_id, now=now, stabilize=stabilize)
    offer = next((row for row in found.offers if row.crew_id == crew_id), None)
    if offer is None:
        why = next((row.reason for row in found.not_offered if row.crew_id == crew_id), "It is not at work now.")
        raise CrewCannotGo(f"This crew cannot go: {why} Choose one from the list.", crew_id=crew_id)
    call = Call.objects.select_related("area").get(pk=call_id)
    told = loss_of(call)
    wanted = wanted_for(call, told, found.report, now)
    opened = opening.open_job(call_id=call_id, actor=actor, now=now)
    job = Job.objects.select_related("area").get(pk=opened.job_id)
    visit = add_visit(
        key=key_for(key, "visit"),
        actor=actor,
        now=now,
        job_id=job.pk,
        kind=Visit.Kind.EMERGENCY,
        due_on=now.astimezone(job.area.zone).date(),
        service_s=figure("stabilizing_seconds") if stabilize else wanted.service_s,
        due_at=wanted.due_at,
        needs=stabilizing.needs(wanted.skills, found.first_load, stabilize=stabilize),
        note=stabilizing.NOTE if stabilize else "",
    )
    crew = Crew.objects.select_related("area", "lead", "vehicle", "start", "end").get(pk=crew_id)
    fetch = None if offer.fetch is None else Warehouse.objects.get(pk=offer.fetch.warehouse_id)
    brought = outfit.outfit(
        key=key, actor=actor, now=now, job=job, crew=crew, loss=told, fetch=fetch, stabilize=stabilize
    )
    second = {**loads.left_of(found.second_load, brought.second_load), **brought.second_load}
    _plan_second_load(key, actor, now, job, second)
    returns = None
    if stabilize:
        rest = loads.left_of(wanted.deliver, Counter(brought.by_kind) + Counter(second))
        returns = stabilizing.book_return(
            key=key, actor=actor, now=now, visit_id=visit.visit_id, rest=rest, service_s=wanted.service_s
        )
    arrive_at = handover.put_on_route(crew=crew, visit_id=visit.visit_id, fetch=fetch, now=now)
    sent = Visit.objects.select_related("job").get(pk=visit.visit_id)
    clocks.begin_arrival_as_told(sent, now=now, told_at=arrive_at)
    call_out = callouts.start(key=key, actor=actor, now=now, crew=crew, visit=sent)
    intake.end_call(
        key=key_for(key, "end"), actor=actor, now=now, call_id=call_id, ended_as=Call.EndedAs.SENT, reason=crew.name
    )
    job.stage = Job.Stage.SENT
    job.save(update_fields=["stage"])
    journal.note(
        kind="crew_sent",
        actor=actor,
        now=now,
        job=job,
        data={
            "crew": crew.pk,
            "visit": visit.visit_id,
            "sizing": brought.sizing_id,
            "because": because,
            "stabilizing": stabilize,
        },
    )
    return Sent(
        job_id=job.pk,
        job_number=job.number,
        visit_id=visit.visit_id,
        crew_id=crew.pk,
        call_out_id=call_out.pk,
        sizing_id=brought.sizing_id,
        arrive_at=arrive_at,
        held=tuple({"model": row.model_code, "place": row.place_id, "count": row.count} for row in brought.taken),
        short=brought.short,
        load_list_id=brought.load_list_id,
        second_load=second,
        returns=returns,
    )


def _plan_second_load(key: UUID, actor: User, now: datetime, job: Job, second: dict[str, int]) -> None:
    """What does not fit on the first vehicle becomes planned deliveries, due at once and shown on the desk."""
    vehicles = Vehicle.objects.filter(area_id=job.area_id, in_workshop=False, loan=None).order_by("pk")
    for number, load in enumerate(loads.further_loads(second, [row.capacity for row in vehicles]), start=2):
        add_visit(
            key=key_for(key, f"load {number}"),
            actor=actor,
            now=now,
            job_id=job.pk,
            kind=Visit.Kind.DELIVERY,
            due_on=now.astimezone(job.area.zone).date(),
            service_s=figure("visit_seconds"),
            needs={"skills": ["water"], "deliver": load},
            note=f"Load {number}: " + ", ".join(f"{count} {kind.replace('_', ' ')}" for kind, count in load.items()),
        )
