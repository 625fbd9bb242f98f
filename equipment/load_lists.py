"""Load lists: what goes onto one vehicle before one departure. Whoever plans writes them; the warehouse reads them."""

from datetime import datetime
from uuid import UUID

from django.contrib.auth.models import User

from equipment import locks
from equipment.models import EquipmentModel, LoadLine, LoadList, Reservation, Vehicle, Warehouse
from jobs.models import Job
from jobs.refusals import NotThere, Unusable
from jobs.use_case import use_case

Line = tuple[int, int | None, int | None, int, int]


@use_case("write_load_list")
def write_load_list(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    vehicle_id: int,
    warehouse_id: int,
    departs_at: datetime,
    crew_name: str,
    lines: tuple[Line, ...],
) -> int:
    """
    Write one load list and answer its id.

    `lines` = ((model id, job id or None, reservation id or None, stop order, units wanted), ...); stop order 1 is the
    first stop, which is loaded last. A line without a job restocks the vehicle.

    :raises NotThere: if a vehicle, warehouse, model, job or reservation does not exist.
    :raises Unusable: if there is no line, or one wants less than one unit.
    """
    _check(vehicle_id, warehouse_id, lines)
    row = LoadList.objects.create(
        vehicle_id=vehicle_id, warehouse_id=warehouse_id, departs_at=departs_at, crew_name=crew_name[:80], made_at=now
    )
    LoadLine.objects.bulk_create(
        LoadLine(
            load_list=row,
            model_id=model_id,
            job_id=job_id,
            reservation_id=reservation_id,
            stop_order=stop_order,
            wanted=wanted,
        )
        for model_id, job_id, reservation_id, stop_order, wanted in lines
    )
    return row.pk


@use_case("cancel_load_list")
def cancel_load_list(*, key: UUID, actor: User, now: datetime, load_list_id: int) -> int:
    """
    A list that is no longer wanted, because the plan changed. What is already loaded stays aboard.

    :raises NotThere: if there is no such list.
    """
    row = locks.lock_load_list(load_list_id)
    if row is None:
        raise NotThere(f"There is no load list {load_list_id}. Look at the departures again.")
    if row.state != LoadList.State.CANCELED:
        row.state = LoadList.State.CANCELED
        row.save(update_fields=["state"])
    return row.pk


def _check(vehicle_id: int, warehouse_id: int, lines: tuple[Line, ...]) -> None:
    if not lines:
        raise Unusable("A load list needs at least one line.", where="lines")
    for position, (_, _, _, stop_order, wanted) in enumerate(lines):
        if wanted < 1 or stop_order < 0:
            raise Unusable(f"Line {position + 1} wants {wanted} units. Ask for one or more.", where="lines")
    asked: tuple[tuple[str, type, set[int]], ...] = (
        ("vehicle", Vehicle, {vehicle_id}),
        ("warehouse", Warehouse, {warehouse_id}),
        ("equipment model", EquipmentModel, {line[0] for line in lines}),
        ("job", Job, {line[1] for line in lines if line[1] is not None}),
        ("reservation", Reservation, {line[2] for line in lines if line[2] is not None}),
    )
    for what, model, ids in asked:
        known = set(model._default_manager.filter(pk__in=ids).values_list("pk", flat=True)) if ids else set()  # type: ignore[attr-defined]
        if missing := sorted(ids - known):
            raise NotThere(f"There is no {what} {missing[0]}. Make the list anew.", where="lines")
