"""Where each unit was, piece by piece, over a span of time: what measures of use are counted from."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from typing import Any

from django.db.models import OuterRef, Q, Subquery

from equipment.models import Move, Unit

_FIELDS = (
    "unit_id",
    "happened_at",
    "to_holder__area_id",
    "unit__number",
    "unit__model__kind",
    "unit__model__replacement_cost",
    "unit__rented",
    "to_holder__kind",
    "to_holder__job_id",
    "room_name",
    "hour_meter",
)


@dataclass(frozen=True)
class Segment:
    """
    One unit with one holder over [`begins_at`, `ends_at`), cut at the span's ends.

    `whole` says that neither end was cut. `meter_in` and `meter_out` are what the hour meter showed at both ends.
    """

    unit_id: int
    number: str
    kind: str
    replacement_cost: float | None
    rented: bool
    holder_kind: str
    job_id: int | None
    room_name: str
    begins_at: datetime
    ends_at: datetime
    meter_in: float | None
    meter_out: float | None
    whole: bool

    @property
    def seconds(self) -> float:
        """How long it lasted within the span."""
        return (self.ends_at - self.begins_at).total_seconds()


def segments(*, area_id: int, starts_at: datetime, ends_at: datetime) -> list[Segment]:
    """
    Every segment with a holder of the area in [`starts_at`, `ends_at`), by unit and time (1 query).

    An entry that was corrected counts no more; of two entries at one time the later written holds.
    """
    standing = Move.objects.filter(corrected_by=None)
    before = (
        standing.filter(unit=OuterRef("pk"), happened_at__lt=starts_at).order_by("-happened_at", "-pk").values("pk")[:1]
    )
    opening = Unit.objects.annotate(opening=Subquery(before)).filter(opening__isnull=False).values("opening")
    within = Q(happened_at__gte=starts_at, happened_at__lt=ends_at)
    rows = standing.filter(Q(pk__in=opening) | within).order_by("unit_id", "happened_at", "pk")
    by_unit: dict[int, list[Any]] = defaultdict(list)
    for row in rows.values_list(*_FIELDS, named=True):
        by_unit[row.unit_id].append(row)
    return [
        found
        for mine in by_unit.values()
        for row, following in pairwise([*mine, None])
        if row.to_holder__area_id == area_id and (found := _segment(row, following, starts_at, ends_at)) is not None
    ]


def _segment(row: Any, following: Any, starts_at: datetime, until: datetime) -> Segment | None:
    begins_at = max(row.happened_at, starts_at)
    ends_at = until if following is None else following.happened_at
    if begins_at >= ends_at:
        return None
    cost = row.unit__model__replacement_cost
    return Segment(
        unit_id=row.unit_id,
        number=row.unit__number,
        kind=row.unit__model__kind,
        replacement_cost=None if cost is None else float(cost),
        rented=row.unit__rented,
        holder_kind=row.to_holder__kind,
        job_id=row.to_holder__job_id,
        room_name=row.room_name,
        begins_at=begins_at,
        ends_at=ends_at,
        meter_in=row.hour_meter,
        meter_out=None if following is None else following.hour_meter,
        whole=row.happened_at >= starts_at and following is not None,
    )
