"""
What a crew brings to a visit: sized against what is free aboard and where it can load, held, confirmed, and listed.

Every hold names the sizing report it rests on. What cannot be had is said, before anyone drives.
"""

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID, uuid5

from django.contrib.auth.models import User

from dispatch.models import Crew
from dispatch.rationing import capped
from dispatch.rules import figure
from equipment import load_lists, places, reservations, sizing_reports
from equipment.free_stock import FreePool, free_pools
from equipment.models import Holder, LoadList, Reservation, SizingReport, Warehouse
from equipment.own_catalogue import catalogue
from jobs.models import Job, Visit
from jobs.use_case import key_for

NAMESPACE = UUID("2b9f2c56-8b0e-4f0c-9f39-0a5a5c0c6f51")


@dataclass(frozen=True)
class Taken:
    """So many units of one model from one place."""

    model_id: int
    model_code: str
    kind: str
    pool_id: int
    place_id: int
    count: int


@dataclass(frozen=True)
class Outfit:
    """What a crew brings: the sizing it rests on, what was held where, what is short, what is for a second load."""

    sizing_id: int
    taken: tuple[Taken, ...]
    short: tuple[dict[str, Any], ...]
    load_list_id: int | None
    second_load: dict[str, int]

    @property
    def by_kind(self) -> dict[str, int]:
        """Units held of each kind, what a second load brings left out."""
        held: Counter[str] = Counter()
        for row in self.taken:
            held[row.kind] += row.count
        held.subtract(self.second_load)
        return {kind: count for kind, count in sorted(held.items()) if count > 0}


def stay_of(now: datetime) -> tuple[datetime, datetime]:
    """The half-open period for which a first load is promised: until the drying is expected to be over."""
    return now, now + timedelta(days=figure("first_promise_days"))


def counts_by_kind(report: dict[str, Any]) -> dict[str, int]:
    """Units of each kind that a sizing report's mix asks for: the planner's `deliver`."""
    total: Counter[str] = Counter()
    for row in report["mix"]:
        total[row["kind"]] += row["count"]
    for row in report["short"]:
        if row["unit"] == "count":
            total[row["kind"]] += max(0, row["wanted"] - row["found"])
    return {kind: count for kind, count in sorted(total.items()) if count}


def outfit(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    job: Job,
    crew: Crew,
    loss: dict[str, Any],
    fetch: Warehouse | None,
    stabilize: bool = False,
) -> Outfit:
    """
    Size the loss against what this crew can bring, hold and confirm it, and write the load list of the warehouse.

    With `stabilize` no more of each kind than a stabilizing visit leaves. Call inside a transaction.
    """
    starts_at, ends_at = stay_of(now)
    vehicle = places.holder_for_vehicle(crew.vehicle_id)
    sources = [vehicle, *([places.holder_for_warehouse(fetch.pk)] if fetch is not None else [])]
    free = free_pools(place_ids=[holder.pk for holder in sources], starts_at=starts_at, ends_at=ends_at)
    made = sizing_reports.make_report(
        key=key_for(key, "sizing"), actor=actor, now=now, job_id=job.pk, loss={**loss, "catalogue": catalogue(free)}
    )
    wanted = Counter[str]()
    left = capped(counts_by_kind(made.report)) if stabilize else None
    for row in made.report["mix"]:
        count = row["count"] if left is None else min(row["count"], left.get(row["kind"], 0))
        wanted[row["model"]] += count
        if left is not None:
            left[row["kind"]] = left.get(row["kind"], 0) - count
    taken = _taken(wanted, free, first=vehicle.pk)
    held: dict[int, int] = {}
    if taken:
        answer = reservations.hold(
            key=key_for(key, "hold"),
            actor=actor,
            now=now,
            job_id=job.pk,
            wanted=tuple((row.pool_id, row.count) for row in taken),
            starts_at=starts_at,
            ends_at=ends_at,
            keep_for=timedelta(hours=1),
            sizing_id=made.sizing_id,
        )
        for row, reservation_id in zip(taken, answer.reservation_ids, strict=True):
            held[row.pool_id] = reservation_id
            reservations.confirm_hold(
                key=key_for(key, f"confirm {row.pool_id}"), actor=actor, now=now, reservation_id=reservation_id
            )
    fetched, second = _room_for(taken, crew.vehicle.capacity, vehicle.pk)
    load_list_id = None
    if fetched and fetch is not None:
        load_list_id = load_lists.write_load_list(
            key=key_for(key, "load list"),
            actor=actor,
            now=now,
            vehicle_id=crew.vehicle_id,
            warehouse_id=fetch.pk,
            departs_at=max(now, crew.starts_at) + timedelta(seconds=fetch.load_s),
            crew_name=crew.name,
            lines=tuple((row.model_id, job.pk, held[row.pool_id], 1, row.count) for row in fetched),
        )
    return Outfit(made.sizing_id, taken, tuple(made.report["short"]), load_list_id, second)


def refit(*, visit: Visit, crew: Crew, actor: User, now: datetime) -> Outfit | None:
    """
    Outfit another crew for a visit: what was held and is not out is released, and held anew from what this crew has.

    None when the job was never sized.
    """
    job = visit.job
    last = SizingReport.objects.filter(job=job).order_by("-made_at", "-pk").first()
    if last is None:
        return None
    key = uuid5(NAMESPACE, f"refit {visit.pk} {crew.pk} {now.isoformat()}")
    live = (Reservation.State.HELD, Reservation.State.CONFIRMED)
    for reservation in Reservation.objects.filter(job=job, state__in=live, drawn=0):
        reservations.release_hold(
            key=key_for(key, f"release {reservation.pk}"),
            actor=actor,
            now=now,
            reservation_id=reservation.pk,
            reason="another crew goes",
        )
    open_lists = LoadList.objects.filter(lines__job=job, state=LoadList.State.OPEN).distinct()
    for load_list_id in open_lists.values_list("pk", flat=True):
        load_lists.cancel_load_list(
            key=key_for(key, f"cancel {load_list_id}"), actor=actor, now=now, load_list_id=load_list_id
        )
    stabilize = bool(visit.needs.get("stabilizing"))
    return outfit(
        key=key, actor=actor, now=now, job=job, crew=crew, loss=last.loss, fetch=crew.start, stabilize=stabilize
    )


def aboard(vehicle_ids: Sequence[int], *, now: datetime) -> dict[int, dict[str, int]]:
    """Free units aboard each vehicle by kind: live stock, less what is promised from it; three queries."""
    holders = Holder.objects.filter(vehicle_id__in=vehicle_ids).values_list("pk", "vehicle_id")
    return _by_kind(dict(holders), vehicle_ids, now)


def in_warehouses(warehouse_ids: Sequence[int], *, now: datetime) -> dict[int, dict[str, int]]:
    """Free units in each warehouse by kind; three queries."""
    holders = Holder.objects.filter(warehouse_id__in=warehouse_ids).values_list("pk", "warehouse_id")
    return _by_kind(dict(holders), warehouse_ids, now)


def _by_kind(owner: dict[int, int], owners: Sequence[int], now: datetime) -> dict[int, dict[str, int]]:
    starts_at, ends_at = stay_of(now)
    total: dict[int, Counter[str]] = defaultdict(Counter)
    for pool in free_pools(place_ids=list(owner), starts_at=starts_at, ends_at=ends_at):
        if pool.free > 0:
            total[owner[pool.place_id]][pool.kind] += pool.free
    return {pk: dict(total[pk]) for pk in owners}


def _room_for(
    taken: Sequence[Taken], capacity: dict[str, int], vehicle_place_id: int
) -> tuple[tuple[Taken, ...], dict[str, int]]:
    """What goes onto the vehicle beside what is aboard, and the held rest by kind, which a second load brings."""
    room = dict(capacity)
    for row in taken:
        if row.place_id == vehicle_place_id:
            room[row.kind] = room.get(row.kind, 0) - row.count
    fetched: list[Taken] = []
    second: Counter[str] = Counter()
    for row in taken:
        if row.place_id == vehicle_place_id:
            continue
        count = max(0, min(row.count, room.get(row.kind, 0)))
        room[row.kind] = room.get(row.kind, 0) - count
        second[row.kind] += row.count - count
        if count:
            fetched.append(replace(row, count=count))
    return tuple(fetched), {kind: count for kind, count in sorted(second.items()) if count}


def _taken(wanted: Counter[str], free: Sequence[FreePool], *, first: int) -> tuple[Taken, ...]:
    """What is aboard first, the warehouse for the rest."""
    taken: list[Taken] = []
    for code in sorted(wanted):
        left = wanted[code]
        pools = sorted((pool for pool in free if pool.model_code == code), key=lambda pool: pool.place_id != first)
        for pool in pools:
            count = min(left, max(0, pool.free))
            if count:
                taken.append(Taken(pool.model_id, code, pool.kind, pool.pool_id, pool.place_id, count))
                left -= count
    return tuple(taken)
