"""What is free, when, where; who holds it; what is aboard."""

from collections import Counter
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import NamedTuple

from django.db.models import Count, Q

from equipment.models import Condition, Holder, Pool, Reservation, UnitNow
from equipment.reservations import book
from equipment.reservations.terms import check_moment, check_period
from equipment.stock import availability as stock

AT_MOST = 2_000
USUAL_STAY = timedelta(days=4)


@dataclass(frozen=True)
class Available:
    """
    One model at one place over [at, until): `stock` belongs there and can work, `promised` is the peak of promises.
    `counted_away`: so many of the stock were counted by model onto a vehicle, numbers to come; they are not free.

    `free` may be negative: facts pushed use above stock. `free_from`: the first time at which `wanted` are free for as
    long; None if there never are that many. `not_ready`: there, but to be cleaned, held back or broken.
    """

    pool_id: int
    model_id: int
    model_code: str
    model: str
    kind: str
    holder_id: int
    place: str
    warehouse_id: int | None
    vehicle_id: int | None
    in_workshop: bool
    stock: int
    promised: int
    free: int
    free_from: datetime | None
    free_until: datetime | None
    not_ready: int
    counted_away: int


def availability(
    *,
    area_id: int,
    now: datetime,
    at: datetime | None = None,
    until: datetime | None = None,
    wanted: int = 1,
    model_id: int | None = None,
) -> tuple[Available, ...]:
    """
    Every model at every warehouse and vehicle of an area, as it is at `at` (default: now) or throughout [at, until).

    Three queries. What another firm has lent is not among them.

    :raises Unusable: if the moment or the period lies too far ahead.
    """
    at = at or now
    check_moment(at, now)
    if until is not None and until > at:
        check_period(at, until, now)
    end = until if until is not None and until > at else at + timedelta(seconds=1)
    length = (until - at) if until is not None and until > at else USUAL_STAY
    pools = Pool.objects.filter(place__area=area_id, model__loan=None)
    if model_id is not None:
        pools = pools.filter(model=model_id)
    ordered = pools.order_by("model__kind", "model__code", "place__kind", "place__name", "pk")
    rows = [_Row(*values) for values in ordered.values_list(*_COLUMNS)[:AT_MOST]]
    used = book.uses({row.pool_id for row in rows}, now=now, not_before=min(at, now))
    waiting = _not_ready(area_id)
    return tuple(
        _available(row, used[row.pool_id], at, end, length, wanted, waiting[row.model_id, row.holder_id])
        for row in rows
    )


class _Row(NamedTuple):
    """What is read of one stock row."""

    pool_id: int
    stock: int
    model_id: int
    model_code: str
    model: str
    kind: str
    holder_id: int
    holder_kind: str
    holder: str
    warehouse_id: int | None
    vehicle_id: int | None
    in_workshop: bool | None
    counted_away: int


_COLUMNS = (
    "pk",
    "stock",
    "model_id",
    "model__code",
    "model__name",
    "model__kind",
    "place_id",
    "place__kind",
    "place__name",
    "place__warehouse_id",
    "place__vehicle_id",
    "place__vehicle__in_workshop",
    "counted_away",
)


def _available(
    row: _Row,
    uses: list[stock.Use],
    at: datetime,
    end: datetime,
    length: timedelta,
    wanted: int,
    not_ready: int,
) -> Available:
    there = 0 if row.in_workshop else max(0, row.stock - row.counted_away)
    promised = stock.peak_use(uses, at, end)
    free = there - promised
    return Available(
        pool_id=row.pool_id,
        model_id=row.model_id,
        model_code=row.model_code,
        model=row.model,
        kind=row.kind,
        holder_id=row.holder_id,
        place=row.holder or Holder.Kind(row.holder_kind).label,
        warehouse_id=row.warehouse_id,
        vehicle_id=row.vehicle_id,
        in_workshop=bool(row.in_workshop),
        stock=0 if row.in_workshop else row.stock,
        promised=promised,
        free=free,
        free_from=stock.first_free(uses, there, wanted, at, length),
        free_until=stock.free_until(uses, there, wanted, at) if free >= wanted else None,
        not_ready=not_ready,
        counted_away=row.counted_away,
    )


def _not_ready(area_id: int) -> Counter[tuple[int, int]]:
    rows = (
        UnitNow.objects.filter(holder__area=area_id, holder__kind__in=[Holder.Kind.WAREHOUSE, Holder.Kind.VEHICLE])
        .exclude(condition=Condition.READY)
        .values_list("unit__model_id", "holder_id")
        .annotate(count=Count("pk"))
    )
    return Counter({(model_id, holder_id): count for model_id, holder_id, count in rows})


@dataclass(frozen=True)
class Holding:
    """One live promise of a pool: who has it and until when."""

    reservation_id: int
    job_id: int
    job_number: str
    state: str
    quantity: int
    drawn: int
    starts_at: datetime
    ends_at: datetime


def who_holds(*, pool_id: int, not_before: datetime, at_most: int = 100) -> tuple[Holding, ...]:
    """The live promises of one pool, the next to end first. One query."""
    return tuple(holding for _, holding in holdings({pool_id}, not_before=not_before, at_most=at_most))


def holdings(pool_ids: Collection[int], *, not_before: datetime, at_most: int = 100) -> tuple[tuple[int, Holding], ...]:
    """The live promises of some pools, each with its pool's id, the next to end first. One query."""
    rows = (
        Reservation.objects.filter(Q(ends_at__gt=not_before) | Q(drawn__gt=0), pool__in=pool_ids, state__in=book.LIVE)
        .select_related("job")
        .order_by("ends_at", "id")[:at_most]
    )
    return tuple(
        (
            row.pool_id,
            Holding(row.pk, row.job_id, row.job.number, row.state, row.quantity, row.drawn, row.starts_at, row.ends_at),
        )
        for row in rows
    )


@dataclass(frozen=True)
class Aboard:
    """
    One model aboard one vehicle, as the record has it: `ready` = free for anything, `for_jobs` = loaded for jobs,
    `dirty` = coming back. A vehicle in the workshop has it aboard, but it counts for nothing.
    """

    vehicle_id: int
    model_id: int
    model_code: str
    kind: str
    ready: int
    for_jobs: int
    dirty: int
    in_workshop: bool


def aboard(*, area_id: int, vehicle_id: int | None = None) -> tuple[Aboard, ...]:
    """What is aboard each vehicle of an area (or one of them): live stock, not standing stock. One query."""
    rows = UnitNow.objects.filter(holder__area=area_id, holder__kind=Holder.Kind.VEHICLE)
    if vehicle_id is not None:
        rows = rows.filter(holder__vehicle=vehicle_id)
    ready = Q(condition=Condition.READY)
    counted = (
        rows.values_list(
            "holder__vehicle_id",
            "unit__model_id",
            "unit__model__code",
            "unit__model__kind",
            "holder__vehicle__in_workshop",
        )
        .annotate(
            ready=Count("pk", filter=ready & Q(reservation=None)),
            for_jobs=Count("pk", filter=ready & Q(reservation__isnull=False)),
            dirty=Count("pk", filter=~ready),
        )
        .order_by("holder__vehicle_id", "unit__model__kind", "unit__model__code")
    )
    return tuple(
        Aboard(vehicle, model, code, kind, free, for_jobs, dirty, in_workshop)
        for vehicle, model, code, kind, in_workshop, free, for_jobs, dirty in counted
    )
