"""What is free hour by hour over the next hours, by kind and by the warehouse that it belongs to."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime, timedelta

from equipment.models import Pool
from equipment.reservations import book
from equipment.stock.availability import peak_use

INSTANT = timedelta(seconds=1)


@dataclass(frozen=True)
class FreeHours:
    """
    One kind at one warehouse, with what is aboard the vehicles of that warehouse.

    `stock`: all that can work, promised or not. `free[h]` units are promised to nobody `h` hours from now; promises
    that have ended by then count as back.
    """

    kind: str
    warehouse: str
    stock: int
    free: tuple[int, ...]


def free_by_hour(*, area_id: int, now: datetime, hours: int) -> tuple[FreeHours, ...]:
    """For `hours` + 1 instants from now on (2 queries)."""
    pools = list(
        Pool.objects.filter(place__area=area_id, model__loan=None)
        .select_related("model", "place__warehouse", "place__vehicle__home")
        .order_by("pk")
    )
    used = book.uses({pool.pk for pool in pools}, now=now, not_before=now)
    times = [now + timedelta(hours=hour) for hour in range(hours + 1)]
    counts: dict[tuple[str, str], list[int]] = defaultdict(lambda: [0] * len(times))
    stock: dict[tuple[str, str], int] = defaultdict(int)
    for pool in pools:
        vehicle = pool.place.vehicle
        base = pool.place.warehouse if vehicle is None else vehicle.home
        if base is None:
            continue
        there = book.usable_stock(pool)
        stock[pool.model.kind, base.name] += there
        row = counts[pool.model.kind, base.name]
        for number, at in enumerate(times):
            row[number] += there - peak_use(used[pool.pk], at, at + INSTANT)
    return tuple(FreeHours(*at, stock[at], tuple(row)) for at, row in sorted(counts.items()))
