"""What is free, pool by pool: the stock row less the peak of what is promised over a period."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from equipment.models import Pool
from equipment.reservations import book
from equipment.stock.availability import free


@dataclass(frozen=True)
class FreePool:
    """
    One model at one place: `stock` units that can work and were not counted away, of which `free` are promised to
    nobody in the period.
    """

    pool_id: int
    model_id: int
    model_code: str
    model_name: str
    kind: str
    place_id: int
    stock: int
    free: int
    counted_away: int


def free_pools(*, place_ids: Sequence[int], starts_at: datetime, ends_at: datetime) -> list[FreePool]:
    """
    The pools of the places over [starts_at, ends_at): two queries. A vehicle in the workshop counts for nothing,
    and so does what another firm has lent.

    Free is negative where facts (a unit broke, a unit is late) have pushed promises above stock. Units still out
    after their period are in use until somebody has looked.
    """
    pools = list(
        Pool.objects.filter(place_id__in=place_ids, model__loan=None)
        .exclude(place__vehicle__in_workshop=True)
        .select_related("model")
        .order_by("place_id", "model__code")
    )
    promised = book.uses({pool.pk for pool in pools}, now=starts_at, not_before=starts_at)
    return [
        FreePool(
            pool.pk,
            pool.model_id,
            pool.model.code,
            pool.model.name,
            pool.model.kind,
            pool.place_id,
            there,
            free(promised[pool.pk], there, starts_at, ends_at),
            pool.counted_away,
        )
        for pool in pools
        for there in [max(0, pool.stock - pool.counted_away)]
    ]
