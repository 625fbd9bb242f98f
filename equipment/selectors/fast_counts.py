"""Counts by model that still await their numbers."""

from dataclasses import dataclass
from datetime import datetime

from django.db.models import QuerySet

from equipment.models import FastCount
from jobs.refusals import NotThere


@dataclass(frozen=True)
class FastCountView:
    """ "6 air movers loaded onto vehicle 12": `numbers` are those given since, `lacking` how many are still to come."""

    id: int
    warehouse_id: int
    vehicle_id: int
    vehicle: str
    model: str
    quantity: int
    numbers: tuple[str, ...]
    lacking: int
    settled: bool
    happened_at: datetime
    counted_by: str
    note: str


def fast_counts(*, warehouse_id: int, at_most: int = 50) -> tuple[FastCountView, ...]:
    """What awaits numbers, the oldest first. Two queries."""
    rows = _rows().filter(warehouse=warehouse_id, settled_at=None).order_by("happened_at", "id")
    return tuple(_view(row) for row in rows[:at_most])


def fast_count(fast_count_id: int) -> FastCountView:
    """
    One count, settled or not. Two queries.

    :raises NotThere: if there is no such count.
    """
    row = _rows().filter(pk=fast_count_id).first()
    if row is None:
        raise NotThere(f"There is no count {fast_count_id}. Look at the list again.")
    return _view(row)


def _rows() -> QuerySet[FastCount]:
    return FastCount.objects.select_related("vehicle", "model", "counted_by").prefetch_related("units")


def _view(row: FastCount) -> FastCountView:
    numbers = tuple(unit.number for unit in row.units.all())
    return FastCountView(
        id=row.pk,
        warehouse_id=row.warehouse_id,
        vehicle_id=row.vehicle_id,
        vehicle=row.vehicle.name,
        model=row.model.name,
        quantity=row.quantity,
        numbers=numbers,
        lacking=row.quantity - len(numbers),
        settled=row.settled_at is not None,
        happened_at=row.happened_at,
        counted_by=row.counted_by.get_full_name() or row.counted_by.get_username(),
        note=row.note,
    )
