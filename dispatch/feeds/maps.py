"""Vehicles, open jobs and today's routes as GeoJSON (RFC 7946): WGS 84, longitude before latitude."""

from collections import Counter, defaultdict
from datetime import datetime
from typing import Any

from dispatch import crew_facts
from equipment import selectors as equipment
from equipment.models import Vehicle
from jobs.models import Area, Job

MOST = 1_000
Collection = dict[str, Any]


def vehicles(*, area: Area, now: datetime) -> Collection:
    """Each vehicle where it was last seen, else at its warehouse, with what is ready aboard by kind (2 queries)."""
    aboard: dict[int, Counter[str]] = defaultdict(Counter)
    for row in equipment.aboard(area_id=area.pk):
        if not row.in_workshop:
            aboard[row.vehicle_id][row.kind] += row.ready
    rows = Vehicle.objects.filter(area=area).select_related("home").order_by("code")[:MOST]
    return _collection(
        _feature(
            row.code,
            [row.lon, row.lat] if row.lat is not None and row.lon is not None else [row.home.lon, row.home.lat],
            name=row.name,
            kind=row.kind,
            warehouse=row.home.code,
            in_workshop=row.in_workshop,
            seen_at=None if row.seen_at is None else row.seen_at.isoformat(),
            ready=dict(sorted(aboard[row.pk].items())),
        )
        for row in rows
    )


def jobs(*, area: Area, now: datetime) -> Collection:
    """Every open job (1 query). No names: who lives there is not a matter of a map."""
    rows = Job.objects.filter(area=area).exclude(stage=Job.Stage.CLOSED).order_by("number")[:MOST]
    return _collection(
        _feature(
            row.number,
            [row.lon, row.lat],
            number=row.number,
            stage=row.stage,
            town=row.town,
            state=row.state,
            category=row.category,
            opened_at=row.opened_at.isoformat(),
        )
        for row in rows
    )


def routes(*, area: Area, now: datetime) -> Collection:
    """Each crew's route as a line from its warehouse by its stops to where it ends; straight from stop to stop."""
    features = []
    for row in crew_facts.rows_of(crew_facts.crews_around(area_id=area.pk, now=now), now=now):
        crew = row.crew
        line = [[crew.start.lon, crew.start.lat], *([stop.visit.job.lon, stop.visit.job.lat] for stop in row.stops)]
        if crew.end is not None:
            line.append([crew.end.lon, crew.end.lat])
        # A line has two positions at least: a crew without a stop stands at one place.
        shape = {"type": "LineString", "coordinates": line} if len(line) > 1 else _point(line[0])
        features.append(
            {
                "type": "Feature",
                "id": crew.pk,
                "geometry": shape,
                "properties": {
                    "crew": crew.name,
                    "vehicle": crew.vehicle.code,
                    "starts_at": crew.starts_at.isoformat(),
                    "ends_at": crew.ends_at.isoformat(),
                    "stops": [
                        {
                            "job": stop.visit.job.number,
                            "kind": stop.visit.kind,
                            "state": stop.visit.state,
                            "arrive_at": stop.arrive_at.isoformat(),
                        }
                        for stop in row.stops
                    ],
                },
            }
        )
    return {"type": "FeatureCollection", "features": features}


MAPS = {"vehicles": vehicles, "jobs": jobs, "routes": routes}


def _collection(features: Any) -> Collection:
    return {"type": "FeatureCollection", "features": list(features)}


def _feature(pk: str, position: list[float], **properties: Any) -> dict[str, Any]:
    return {"type": "Feature", "id": pk, "geometry": _point(position), "properties": properties}


def _point(position: list[float]) -> dict[str, Any]:
    return {"type": "Point", "coordinates": position}
