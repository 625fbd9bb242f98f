"""Where a stop that lost its crew costs the others least: the planner's exact insertion, with its promise priced."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from dispatch import crew_facts, eligibility, routes, snapshot
from dispatch.models import Crew, Stop
from dispatch.planner.offers import Standing
from dispatch.planner.outlook import outlook_of
from dispatch.planner.schedule import as_route
from dispatch.rules import figure
from dispatch.snapshot import Snapshot, crew_key, visit_key
from dispatch.wording import in_names
from jobs.models import Visit

# Crews that begin so long after the stop are asked, too: later is better than not at all.
WHO_COMES_LATER = timedelta(hours=6)


@dataclass(frozen=True)
class Place:
    """The crew that takes a visit at least cost, with the day in which that was found; or why nobody can."""

    crew: Crew | None
    shot: Snapshot
    why: str = ""


def best_place(stop: Stop, *, not_to: Sequence[Crew], now: datetime) -> Place:
    """Ask every other crew of the stop's day, as its route stands; nothing is written."""
    visit, area = stop.visit, stop.visit.job.area
    barred = {crew.pk for crew in not_to}
    day = stop.crew.service_day
    ahead = max(stop.start_at, now) - now + WHO_COMES_LATER
    found = {crew.pk: crew for crew in crew_facts.crews_of_day(area_id=area.pk, day=day)}
    found |= {crew.pk: crew for crew in crew_facts.crews_around(area_id=area.pk, now=now, ahead=ahead)}
    crews = [crew for pk, crew in sorted(found.items()) if pk not in barred]
    rows = [row for row in crew_facts.rows_of(crews, now=now) if row.crew.at_latest > now]
    shot = _shot(stop, rows, now)
    frame = routes.frame_for(shot)
    running, stuck = routes.running(frame, shot.routes)
    if stuck:
        rows = [row for row in rows if crew_key(row.crew.pk) not in stuck]
        shot = _shot(stop, rows, now)
        frame = routes.frame_for(shot)
        running, _ = routes.running(frame, shot.routes)
    outlooks = tuple(outlook_of(frame, number, route) for number, route in enumerate(running))
    answer = Standing(frame, outlooks).offers(visit_key(visit.pk))
    by_key = {crew_key(row.crew.pk): row for row in rows}
    not_fit = {key for key, _ in shot.barred}
    for offer in answer.offers:
        if offer.crew not in not_fit:
            return Place(by_key[offer.crew].crew, shot)
    names = {key: row.crew.name for key, row in by_key.items()}
    told = [f"{names[key]}: {reason.message}" for key, reason in shot.barred if key in names]
    on = now.astimezone(area.zone).date()
    for row in answer.not_offered:
        reason = eligibility.why_not_skilled(by_key[row.crew].facts, visit.needs.get("skills", ["water"]), on=on)
        message = row.message if reason is None or row.code != "skills" else reason.message
        told.append(f"{names[row.crew]}: {in_names(message, names)}")
    return Place(None, shot, " ".join(told[:6]) or "No other crew is at work that day.")


def put(visit: Visit, *, place: Place) -> tuple[routes.Moved, ...]:
    """
    Write the route of the crew that takes it; which promised starts moved, the visit's own among them.

    :raises RouteFull: if the crew's hours leave no room for it.
    """
    assert place.crew is not None
    route = routes.with_visit(place.shot, crew_id=place.crew.pk, visit_id=visit.pk)
    return routes.write_route(snapshot=place.shot, route=route)


def retime(crew: Crew, *, now: datetime) -> tuple[routes.Moved, ...]:
    """
    Give what is left of a crew's route its exact times again, in its order; which promised starts moved.

    A route that cannot be driven in the hours that are left stays as it was told.
    """
    (row,) = crew_facts.rows_of([crew], now=now)
    if not row.stops or crew.at_latest <= now:
        return ()
    shot = snapshot.build(area=crew.area, day=crew.service_day, now=now, rows=[row], visits=[], keep=True, soft=True)
    if not shot.problem["crews"]:
        return ()
    frame = routes.frame_for(shot)
    (timed,), stuck = routes.running(frame, shot.routes)
    return () if stuck else routes.write_route(snapshot=shot, route=as_route(frame, 0, timed))


def _shot(stop: Stop, rows: Sequence[crew_facts.CrewRow], now: datetime) -> Snapshot:
    visit = stop.visit
    shot = snapshot.build(
        area=visit.job.area,
        day=stop.crew.service_day,
        now=now,
        rows=rows,
        visits=[visit],
        keep=True,
        soft=True,
    )
    told = next(row for row in shot.problem["visits"] if row["id"] == visit_key(visit.pk))
    # It was promised to its customer by the crew that it had, and the promise stands whoever comes.
    told["promised"] = round((stop.start_at - shot.zero).total_seconds())
    told["per_moved_second"] = figure("per_moved_second")
    if told["window"] is not None and visit.window_until is not None:
        ends = round((visit.window_until - shot.zero).total_seconds())
        told["due"] = ends if told["due"] is None else min(told["due"], ends)
        told["window"] = [told["window"][0], ends + snapshot.WHOLE_DAY_S]
        told["per_late_second"] = figure("per_late_second")
    return shot
