"""Crews' routes: their exact times from the planner, and the one writer of `Stop` rows."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from dispatch.models import Plan, Stop
from dispatch.planner.fitting import Misfit
from dispatch.planner.frame import Frame, frame_of
from dispatch.planner.plan import Route
from dispatch.planner.problem import Problem
from dispatch.planner.schedule import as_route, schedule
from dispatch.snapshot import Snapshot, id_of
from equipment.models import Warehouse
from jobs.models import Visit


@dataclass(frozen=True)
class Moved:
    """A promised start that a change of route moved."""

    visit_id: int
    was: datetime
    now: datetime


def timed_plan(frame: Frame, routes: Sequence[Mapping[str, Any]]) -> tuple[list[Route], dict[str, Misfit]]:
    """The routes with exact times, and for each crew whose order cannot be driven the rule that forbids it."""
    crews = {crew.id: number for number, crew in enumerate(frame.problem.crews)}
    visits = {visit.id: number for number, visit in enumerate(frame.problem.visits)}
    good: list[Route] = []
    bad: dict[str, Misfit] = {}
    for route in routes:
        crew = crews[route["crew"]]
        timed = schedule(frame, crew, [visits[name] for name in route["visits"]])
        if isinstance(timed, Misfit):
            bad[route["crew"]] = timed
        else:
            good.append(as_route(frame, crew, timed))
    return good, bad


def frame_for(snapshot: Snapshot) -> tuple[Problem, Frame]:
    """The snapshot's problem, read as strictly as the port reads it, with its travel times."""
    problem = Problem.model_validate(snapshot.problem)
    return problem, frame_of(problem)


def write_route(
    *,
    snapshot: Snapshot,
    route: Route,
    plan: Plan | None = None,
    fetches: Mapping[int, Warehouse] | None = None,
) -> tuple[Moved, ...]:
    """
    Put a crew's stops in the route's order with its times; which published starts moved, and by how much.

    Begun stops keep their real times. A visit that another crew had comes over with its row. Call inside a transaction.
    """
    crew_id = id_of(route.crew)
    fetch_stops = {id_of(stop.visit): stop for stop in route.stops if stop.visit.startswith("f")}
    ids = [id_of(stop.visit) for stop in route.stops if stop.visit.startswith("v")]
    rows = {row.visit_id: row for row in Stop.objects.filter(visit_id__in=ids).select_related("visit")}
    visits = Visit.objects.in_bulk(ids)
    moved: list[Moved] = []
    for position, stop in enumerate((stop for stop in route.stops if stop.visit.startswith("v")), start=1):
        visit = visits[id_of(stop.visit)]
        row = rows.get(visit.pk) or Stop(visit=visit)
        row.crew_id, row.position = crew_id, position
        row.arrive_at, row.start_at, row.leave_at = map(snapshot.at, (stop.arrive_s, stop.start_s, stop.leave_s))
        if plan is not None:
            row.plan = plan
        if fetches and visit.pk in fetches:
            row.fetch_from = fetches[visit.pk]
        if visit.pk in fetch_stops:
            row.fetch_at = snapshot.at(fetch_stops[visit.pk].start_s)
        row.save()
        if visit.arrived_at is None:
            was, visit.promised_start = visit.promised_start, row.start_at
            if was != row.start_at:
                visit.save(update_fields=["promised_start"])
            if was is not None and was != row.start_at:
                moved.append(Moved(visit.pk, was, row.start_at))
    return tuple(moved)


def take_off_route(visit_ids: Sequence[int]) -> None:
    """Take visits off whatever route they are on."""
    Stop.objects.filter(visit_id__in=visit_ids).delete()
