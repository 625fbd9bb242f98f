"""Which line of a load list a scanned unit fills, and which promise it is taken on."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Count

from equipment import locks, places
from equipment.custody.writing import Write
from equipment.models import EquipmentModel, Holder, LoadedUnit, LoadLine, LoadList, Unit, UnitNow
from equipment.reservations import facts
from equipment.reservations.book import LIVE
from jobs.models import Job
from jobs.refusals import NotThere, Unusable


@dataclass
class Listed:
    """A load list being worked on, with how many each line still lacks."""

    row: LoadList
    lines: tuple[LoadLine, ...]
    lacking: dict[int, int]

    @property
    def warehouse_id(self) -> int:
        return self.row.warehouse_id


def open_list(load_list_id: int | None, vehicle_id: int) -> Listed | None:
    """
    The load list, locked; None if none is named.

    :raises NotThere: if there is no such list.
    :raises Unusable: if it is another vehicle's, or no longer wanted.
    """
    if load_list_id is None:
        return None
    row = locks.lock_load_list(load_list_id)
    if row is None:
        raise NotThere(f"There is no load list {load_list_id}. Choose one from the departures.", where="load_list_id")
    if row.vehicle_id != vehicle_id:
        raise Unusable("This load list is for another vehicle. Choose the vehicle's own list.", where="vehicle_id")
    if row.state == LoadList.State.CANCELED:
        raise Unusable("This load list is no longer wanted. Choose another departure.", where="load_list_id")
    lines = tuple(
        row.lines.select_related("model", "reservation")
        .annotate(loaded_count=Count("loaded"))
        .order_by("-stop_order", "id")
    )
    lacking = {line.pk: max(0, line.wanted - line.loaded_count) for line in lines}
    return Listed(row, lines, lacking)


def pools_of(listed: Listed | None) -> Iterator[int]:
    """The stock rows that loading for this list may touch."""
    if listed is None:
        return
    for line in listed.lines:
        if line.reservation is not None:
            yield line.reservation.pool_id


def line_for(listed: Listed | None, model: EquipmentModel) -> LoadLine | None:
    """The line that a unit of this model fills: the last stop's first, its own model before an equivalent."""
    if listed is None:
        return None
    lacking = [line for line in listed.lines if listed.lacking[line.pk] > 0]
    chosen = next((line for line in lacking if line.model_id == model.pk), None)
    if chosen is None and lacking:
        others = set(model.equivalents.values_list("pk", flat=True))
        chosen = next((line for line in lacking if line.model_id in others), None)
    if chosen is not None:
        listed.lacking[chosen.pk] -= 1
    return chosen


def reservation_for(row: UnitNow, line: LoadLine | None, job: Job | None, to: Holder, write: Write) -> int | None:
    """The promise that a ready unit is taken on; None: it becomes the vehicle's own stock."""
    promise = write.promise(line.reservation_id) if line is not None and line.reservation_id is not None else None
    if line is not None and promise is not None:
        if promise.state in LIVE and line.model_id == row.unit.model_id:
            return promise.pk
        if line.model_id != row.unit.model_id:
            facts.swap_for_equivalent(promise, **write.about(f"equivalent:{row.unit.number}"))
    if line is not None:
        job = line.job
    if job is None and promise is not None:
        job = promise.job
    if job is None:
        return None
    pool = row.pool or places.pool_for(model_id=row.unit.model_id, place=to)
    return write.promise_to_draw_on(pool=pool, job=job).pk


def fill(line: LoadLine, unit: Unit, at: datetime) -> None:
    """Count the unit on the line."""
    LoadedUnit.objects.get_or_create(line=line, unit=unit, defaults={"at": at})


def close_if_full(listed: Listed | None) -> None:
    """A list that lacks nothing is loaded."""
    if listed is not None and not any(listed.lacking.values()) and listed.row.state == LoadList.State.OPEN:
        listed.row.state = LoadList.State.LOADED
        listed.row.save(update_fields=["state"])


def unload(unit: Unit, vehicle_id: int) -> None:
    """A unit that was taken off again is lacking on its list again."""
    loaded = (
        LoadedUnit.objects.filter(
            unit=unit, line__load_list__vehicle_id=vehicle_id, line__load_list__state__in=("open", "loaded")
        )
        .order_by("-at", "-id")
        .select_related("line__load_list")
        .first()
    )
    if loaded is None:
        return
    listed = loaded.line.load_list
    loaded.delete()
    if listed.state == LoadList.State.LOADED:
        listed.state = LoadList.State.OPEN
        listed.save(update_fields=["state"])
