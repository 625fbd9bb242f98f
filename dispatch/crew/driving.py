"""How long and how far the crew drives from stop to stop, by the planner's own estimate of the road."""

from collections.abc import Sequence

from dispatch.models import Crew, Stop
from dispatch.planner.problem import Place
from dispatch.planner.travel import METERS_PER_MILE, estimate


def legs(crew: Crew, stops: Sequence[Stop]) -> tuple[tuple[int, float], ...]:
    """Minutes and miles of the way to each stop in the order of the route, by its warehouse where it loads first."""
    found = []
    here = Place(id="start", lat=crew.start.lat, lon=crew.start.lon)
    for stop in stops:
        job = stop.visit.job
        way = [here]
        if stop.fetch_from is not None:
            way.append(Place(id="load", lat=stop.fetch_from.lat, lon=stop.fetch_from.lon))
        here = Place(id="stop", lat=job.lat, lon=job.lon)
        travel = estimate([*way, here])
        steps = range(len(way))
        seconds = sum(travel.seconds[step][step + 1] for step in steps)
        meters = sum(travel.meters[step][step + 1] for step in steps)
        found.append((round(seconds / 60), round(meters / METERS_PER_MILE, 1)))
    return tuple(found)
