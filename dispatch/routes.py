"""Crews' routes: their exact times from the planner, and the one writer of `Stop` rows."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from dispatch.models import Crew, Plan, Stop
from dispatch.planner.fitting import Misfit
from dispatch.planner.frame import Frame, frame_of
from dispatch.planner.plan import Route
from dispatch.planner.problem import Problem
from dispatch.planner.schedule import EMPTY, Timed, as_route, schedule
from dispatch.snapshot import Snapshot, crew_key, id_of, visit_key
from equipment.models import Warehouse
from jobs.models import Visit
from jobs.refusals import Refusal


@dataclass(frozen=True)
class Moved:
    """A promised start that a change of route moved."""

    visit_id: int
    was: datetime
    now: datetime


def frame_for(snapshot: Snapshot) -> Frame:
    """The snapshot's problem, read as strictly as the port reads it, with its travel times."""
    return frame_of(Problem.model_validate(snapshot.problem))


def running(frame: Frame, routes: Sequence[Mapping[str, Any]]) -> tuple[tuple[Timed, ...], frozenset[str]]:
    """Every crew's route with exact times, and the crews whose order cannot be driven (they get an empty route)."""
    crews = {crew.id: number for number, crew in enumerate(frame.problem.crews)}
    visits = {visit.id: number for number, visit in enumerate(frame.problem.visits)}
    timed = [EMPTY] * len(crews)
    stuck: set[str] = set()
    for route in routes:
        crew = crews[route["crew"]]
        times = schedule(frame, crew, [visits[name] for name in route["visits"]])
        if isinstance(times, Misfit):
            stuck.add(route["crew"])
        else:
            timed[crew] = times
    return tuple(timed), frozenset(stuck)


class RouteFull(Refusal):
    """No place on the crew's route can take the visit within its hours."""

    code = "route_full"


def with_visit(snapshot: Snapshot, *, crew_id: int, visit_id: int, fetch: str | None = None) -> Route:
    """
    The crew's route with the visit put where it costs least; `fetch` names a detour that goes right before it.

    :raises RouteFull: if no place on the route can take it.
    """
    frame = frame_for(snapshot)
    problem = frame.problem
    crew = next(number for number, who in enumerate(problem.crews) if who.id == crew_key(crew_id))
    numbers = {visit.id: number for number, visit in enumerate(problem.visits)}
    names: list[str] = next((route["visits"] for route in snapshot.routes if route["crew"] == crew_key(crew_id)), [])
    order = [numbers[name] for name in names]
    new = [numbers[name] for name in ([fetch] if fetch else []) + [visit_key(visit_id)]]
    best: Timed | None = None
    for position in range(len(problem.crews[crew].begun), len(order) + 1):
        timed = schedule(frame, crew, [*order[:position], *new, *order[position:]])
        if isinstance(timed, Timed) and (best is None or timed.cost < best.cost):
            best = timed
    if best is None:
        raise RouteFull("This crew's hours leave no room for the visit. Choose another crew, or move its other stops.")
    return as_route(frame, crew, best)


def lock_crews(crew_ids: Iterable[int]) -> None:
    """Keep the crews' routes from others until the transaction ends; locked in key order, before they are read."""
    list(Crew.objects.select_for_update(of=("self",)).filter(pk__in=sorted(crew_ids)).order_by("pk").values_list("pk"))


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
