"""Counted accessories and consumables by place, what is below its minimum first."""

from dataclasses import dataclass
from datetime import datetime

from equipment.models import CountedStock, Holder


@dataclass(frozen=True)
class CountedRow:
    """One item at one place; `short` is what lacks to the minimum, `here` what the asking warehouse has of it."""

    place_id: int
    place: str
    item: str
    unit_word: str
    quantity: int
    minimum: int
    short: int
    counted_at: datetime
    here: int = 0

    @property
    def can_load(self) -> int:
        """What lacks, as far as the asking warehouse has it."""
        return min(self.short, self.here)


def counted_at(
    *, warehouse_id: int | None = None, vehicle_id: int | None = None, from_warehouse_id: int | None = None
) -> tuple[CountedRow, ...]:
    """
    Every item of a warehouse or a vehicle, what is short first; with what `from_warehouse_id` has of it.

    At most two queries.
    """
    rows = CountedStock.objects.select_related("place")
    mine = rows.filter(place__warehouse=warehouse_id) if warehouse_id else rows.filter(place__vehicle=vehicle_id)
    here: dict[str, int] = {}
    if from_warehouse_id is not None:
        here = dict(CountedStock.objects.filter(place__warehouse=from_warehouse_id).values_list("item", "quantity"))
    found = [_row(row, here.get(row.item, 0)) for row in mine.order_by("item")[:500]]
    return tuple(sorted(found, key=lambda row: (row.short == 0, row.item)))


def counted_short(*, area_id: int, at_most: int = 100) -> tuple[CountedRow, ...]:
    """Items below their minimum aboard the vehicles of an area, the most lacking first. One query."""
    rows = CountedStock.objects.filter(place__area=area_id, place__kind=Holder.Kind.VEHICLE, minimum__gt=0)
    short = [row for row in rows.select_related("place").order_by("place__name", "item") if row.quantity < row.minimum]
    short.sort(key=lambda row: row.quantity - row.minimum)
    return tuple(_row(row) for row in short[:at_most])


def _row(row: CountedStock, here: int = 0) -> CountedRow:
    lacks = max(0, row.minimum - row.quantity)
    return CountedRow(
        row.place_id, str(row.place), row.item, row.unit_word, row.quantity, row.minimum, lacks, row.counted_at, here
    )
