"""Readings of one stop in one go: a new point is marked first, then all values are kept."""

from dataclasses import replace
from datetime import datetime
from uuid import UUID

from django.contrib.auth.models import User

from dispatch.crew.forms import NewPoint
from jobs import drying
from jobs.drying_values import AirValue, MaterialValue
from jobs.use_case import key_for, use_case


@use_case("record_stop_readings")
def record(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    job_id: int,
    visit_id: int,
    air: tuple[AirValue, ...],
    materials: tuple[MaterialValue, ...],
    point: NewPoint | None,
    confirmed: bool,
    taken_at: datetime | None = None,
) -> drying.ReadingsRecorded:
    """
    Keep a stop's readings; as `jobs.drying.record_readings`, after marking `point`. `taken_at` is when, where the phone
    kept them for a while.

    :raises ReadingsDoubtful: naming every doubtful value, unless `confirmed`; then nothing is kept.
    """
    if point is not None:
        added = drying.add_point(
            key=key_for(key, "point"),
            actor=actor,
            now=now,
            job_id=job_id,
            room_name=point.room_name,
            material=point.material,
            meter=point.meter,
            scale=point.scale,
            dry_standard=point.dry_standard,
            goal=point.goal,
        )
        if point.value is not None:
            materials = (*materials, MaterialValue(added.number, point.value))
    at = min(taken_at or now, now)
    return drying.record_readings(
        key=key_for(key, "readings"),
        actor=actor,
        now=now,
        job_id=job_id,
        visit_id=visit_id,
        air=tuple(replace(value, taken_at=value.taken_at or at) for value in air),
        materials=tuple(replace(value, taken_at=value.taken_at or at) for value in materials),
        confirmed=confirmed,
    )
