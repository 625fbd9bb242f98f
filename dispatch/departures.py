"""Publishing a plan writes down what each vehicle loads before it leaves; the warehouse reads only its own tables."""

from datetime import datetime
from typing import NamedTuple
from uuid import UUID

from django.contrib.auth.models import User

from dispatch.models import Crew, Stop
from equipment import load_lists
from equipment.models import LoadList, Reservation
from jobs.models import Visit
from jobs.use_case import key_for


class Line(NamedTuple):
    """One line of a load list, in the order in which `write_load_list` takes it."""

    model_id: int
    job_id: int
    reservation_id: int
    stop_order: int
    wanted: int


def write(*, key: UUID, actor: User, now: datetime, crews: list[Crew]) -> tuple[int, ...]:
    """
    Write the load list of every crew whose stops bring what is held for them at the crew's own warehouse.

    A list of the same crew that waits is taken back first, so that publishing again never asks for a unit twice. What
    already stands on another vehicle's open list is left there. Call inside a transaction.
    """
    waiting = LoadList.objects.filter(
        vehicle__in=[crew.vehicle_id for crew in crews], state=LoadList.State.OPEN, departs_at__gte=now
    )
    mine = {(crew.vehicle_id, crew.name) for crew in crews}
    for row in waiting.filter(lines__loaded__isnull=True).distinct():
        if (row.vehicle_id, row.crew_name) in mine:
            load_lists.cancel_load_list(key=key_for(key, f"cancel {row.pk}"), actor=actor, now=now, load_list_id=row.pk)
    written = []
    for crew in crews:
        if lines := _lines(crew):
            written.append(
                load_lists.write_load_list(
                    key=key_for(key, f"load {crew.pk}"),
                    actor=actor,
                    now=now,
                    vehicle_id=crew.vehicle_id,
                    warehouse_id=crew.start_id,
                    departs_at=max(now, crew.starts_at),
                    crew_name=crew.name,
                    lines=lines,
                )
            )
    return tuple(written)


def _lines(crew: Crew) -> tuple[Line, ...]:
    stops = Stop.objects.filter(crew=crew, visit__state=Visit.State.DUE).select_related("visit")
    bringing = {stop.visit.job_id: stop for stop in stops if stop.visit.needs.get("deliver")}
    held = Reservation.objects.filter(
        job_id__in=bringing, state=Reservation.State.CONFIRMED, pool__place__warehouse_id=crew.start_id
    )
    listed = held.filter(load_lines__load_list__state=LoadList.State.OPEN)
    lines = []
    for promise in held.exclude(pk__in=listed).select_related("pool__model").order_by("pk"):
        stop = bringing[promise.job_id]
        wanted = min(promise.quantity - promise.drawn, stop.visit.needs["deliver"].get(promise.pool.model.kind, 0))
        if wanted > 0:
            lines.append(Line(promise.pool.model_id, promise.job_id, promise.pk, stop.position, wanted))
    return tuple(lines)
