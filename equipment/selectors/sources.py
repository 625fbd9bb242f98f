"""Where can I get it: for a need and a place, the nearest sources."""

from collections import Counter
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Count
from geopy.distance import great_circle

from equipment.models import Condition, Holder, Pool, Unit, UnitNow
from equipment.reservations import book
from equipment.stock.availability import peak_use
from jobs.models import Job

# Roads are longer than the straight line, and vans are not fast: rough figures to rank by, no source.
ROAD_FACTOR, MILES_PER_MINUTE = 1.35, 0.6


@dataclass(frozen=True)
class Source:
    """
    One place with `free` units. `kind`: warehouse, vehicle, job or supplier. `drive_min` is a rough estimate to rank
    by; None where no place is known. `costs` says what moving it would cost whom.
    """

    kind: str
    name: str
    free: int
    enough: bool
    drive_min: int | None
    costs: str
    pool_id: int | None = None
    job_id: int | None = None
    vehicle_id: int | None = None
    warehouse_id: int | None = None


def where_can_i_get(
    *,
    area_id: int,
    model_id: int,
    wanted: int,
    lat: float,
    lon: float,
    starts_at: datetime,
    ends_at: datetime,
    now: datetime,
    at_most: int = 20,
) -> tuple[Source, ...]:
    """The nearest sources of `wanted` units of a model over [`starts_at`, `ends_at`), nearest first. Four queries."""
    here = (lat, lon)
    found = [
        *_pools(area_id, model_id, wanted, here, starts_at, ends_at, now),
        *_jobs(area_id, model_id, wanted, here),
        *_rental(model_id, wanted),
    ]
    found.sort(key=lambda source: (source.drive_min is None, source.drive_min or 0, -source.free, source.name))
    return tuple(found[:at_most])


def _minutes(here: tuple[float, float], lat: float | None, lon: float | None) -> int | None:
    if lat is None or lon is None:
        return None
    return round(great_circle(here, (lat, lon)).miles * ROAD_FACTOR / MILES_PER_MINUTE)


def _pools(
    area_id: int,
    model_id: int,
    wanted: int,
    here: tuple[float, float],
    starts_at: datetime,
    ends_at: datetime,
    now: datetime,
) -> list[Source]:
    rows = {
        row.pk: row
        for row in Pool.objects.filter(place__area=area_id, model=model_id, stock__gt=0).select_related(
            "place__vehicle__home", "place__warehouse"
        )
    }
    used = book.uses(set(rows), now=now, not_before=min(now, starts_at))
    found = []
    for pk, row in rows.items():
        free = book.usable_stock(row) - peak_use(used[pk], starts_at, ends_at)
        if free <= 0:
            continue
        vehicle, warehouse = row.place.vehicle, row.place.warehouse
        if vehicle is not None:
            where = vehicle if vehicle.lat is not None else vehicle.home
            costs = f"{vehicle.name} gives it up and is short of its standing stock until restocked"
        else:
            assert warehouse is not None
            where, costs = warehouse, f"somebody drives to {warehouse.name}; loading takes {warehouse.load_s // 60} min"
        found.append(
            Source(
                row.place.kind,
                str(row.place),
                free,
                free >= wanted,
                _minutes(here, where.lat, where.lon),
                costs,
                pool_id=pk,
                vehicle_id=row.place.vehicle_id,
                warehouse_id=row.place.warehouse_id,
            )
        )
    return found


def _jobs(area_id: int, model_id: int, wanted: int, here: tuple[float, float]) -> list[Source]:
    """Jobs at goal: their units are no longer needed there. From category 3 water none goes straight on."""
    counted = (
        UnitNow.objects.filter(
            holder__kind=Holder.Kind.JOB,
            holder__area=area_id,
            holder__job__stage=Job.Stage.AT_GOAL,
            unit__model=model_id,
            condition=Condition.IN_USE,
        )
        .exclude(water_category=3)
        .exclude(holder__job__category=3)
        .values_list("holder__job_id", "holder__name", "holder__job__lat", "holder__job__lon")
        .annotate(count=Count("pk"))
    )
    return [
        Source(
            Holder.Kind.JOB,
            name,
            count,
            count >= wanted,
            _minutes(here, lat, lon),
            "its pick-up becomes part of this drive; wipe down and check each unit before it goes on",
            job_id=job_id,
        )
        for job_id, name, lat, lon, count in counted
    ]


def _rental(model_id: int, wanted: int) -> list[Source]:
    """Suppliers that have rented us this model before; how many they have is only known by calling."""
    names = Counter(
        Unit.objects.filter(model=model_id, rented=True).exclude(supplier="").values_list("supplier", flat=True)[:500]
    )
    return [
        Source(Holder.Kind.SUPPLIER, name, 0, False, None, "a day's rent for each unit; call to ask what they have")
        for name in sorted(names)
    ]
