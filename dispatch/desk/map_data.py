"""Warehouses, open jobs and crews of today as GeoJSON (RFC 7946)."""

from collections import defaultdict
from datetime import datetime
from typing import Any

from dispatch import crew_facts
from dispatch.crew_facts import CrewRow
from dispatch.positions import last_known, steps_of
from equipment.models import Warehouse
from jobs.models import Area, Job

MOST_JOBS = 500


def features(*, area: Area, now: datetime) -> dict[str, Any]:
    """One FeatureCollection; `what` tells warehouse, job and crew apart, `text` is what a reader is told."""
    found = [_point(w.lat, w.lon, "warehouse", w.name) for w in Warehouse.objects.filter(area=area)]
    jobs = Job.objects.filter(area=area).exclude(stage=Job.Stage.CLOSED).order_by("pk")
    found += [
        _point(job.lat, job.lon, "job", f"{job.number}, {job.town}: {job.get_stage_display()}", job.number)
        for job in jobs[:MOST_JOBS]
    ]
    rows = crew_facts.rows_of(crew_facts.crews_around(area_id=area.pk, now=now), now=now)
    at_one_place: dict[tuple[float, float], list[str]] = defaultdict(list)
    for row in rows:
        lat, lon, text = _crew(row, now)
        at_one_place[lat, lon].append(text)
    found += [_point(lat, lon, "crew", "; ".join(texts)) for (lat, lon), texts in at_one_place.items()]
    return {"type": "FeatureCollection", "features": found}


def _crew(row: CrewRow, now: datetime) -> tuple[float, float, str]:
    """A crew stands where it was last known to be, else at its warehouse; crews at one place share one mark."""
    last = last_known(crew=row.crew, steps=steps_of(row.stops), now=now)
    if last is not None:
        return last.lat, last.lon, f"{row.crew.name}: {last.place}, {last.age}"
    start = row.crew.start
    return start.lat, start.lon, f"{row.crew.name}: {start.name}"


def _point(lat: float, lon: float, what: str, text: str, number: str = "") -> dict[str, Any]:
    return {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": [lon, lat]},
        "properties": {"what": what, "text": text, "number": number},
    }
