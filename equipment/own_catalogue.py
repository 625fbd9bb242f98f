"""The company's own machines as the catalogue that sizing chooses from (ports.md section 1)."""

from collections import Counter
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from django.db.models import QuerySet

from equipment.free_stock import FreePool, free_pools
from equipment.models import EquipmentModel, Holder, Reservation
from equipment.reservations.book import LIVE

# Kinds that the planner counts; the others of ports.md ride along by the same words.
KINDS = ("conventional", "lgr", "desiccant", "air_mover", "air_scrubber", "cavity_kit", "floor_mat_kit", "heater")
TONIGHT = timedelta(hours=12)


def catalogue(free: Sequence[FreePool]) -> list[dict[str, Any]]:
    """The sizing port's catalogue, from what is free at the given places."""
    count: Counter[int] = Counter()
    for pool in free:
        count[pool.model_id] += max(0, pool.free)
    return _entries(count)


def catalogue_for_job(*, job_id: int, area_id: int, now: datetime) -> list[dict[str, Any]] | None:
    """
    What the area has free now, and what is promised to this job already; None where the area keeps no machines.

    Five queries.
    """
    ours = (Holder.Kind.WAREHOUSE, Holder.Kind.VEHICLE)
    places = Holder.objects.filter(area_id=area_id, kind__in=ours).values_list("pk", flat=True)
    count: Counter[int] = Counter()
    for pool in free_pools(place_ids=list(places), starts_at=now, ends_at=now + TONIGHT):
        count[pool.model_id] += max(0, pool.free)
    own = Reservation.objects.filter(job_id=job_id, state__in=LIVE, starts_at__lt=now + TONIGHT, ends_at__gt=now)
    for model_id, quantity in own.values_list("pool__model_id", "quantity"):
        count[model_id] += quantity
    return _entries(count) or None


def _entries(count: Counter[int]) -> list[dict[str, Any]]:
    return [_entry(model, count[model.pk]) for model in _sized().filter(pk__in=count)]


def plenty(most: int) -> list[dict[str, Any]]:
    """Every model that a size names, as if so many of each were free."""
    return [_entry(model, most) for model in _sized()]


def _sized() -> QuerySet[EquipmentModel]:
    return EquipmentModel.objects.filter(kind__in=KINDS).order_by("code")


def _entry(model: EquipmentModel, free: int) -> dict[str, Any]:
    """A model in the sizing's words."""
    return {
        "model": model.code,
        "kind": model.kind,
        "rated_pints_per_day": model.rated_pints_per_day,
        "process_cfm": model.process_cfm,
        "airflow_cfm": model.airflow_cfm,
        "outlets": model.outlets,
        "covers_sqft": model.covers_sqft,
        "running_a": model.running_a,
        "free": free,
    }
