"""What is to be counted: today's list, and each vehicle against its record."""

from dataclasses import dataclass
from datetime import UTC, date, datetime
from urllib.parse import urlencode

from django.db.models import Count, Min

from equipment.models import CountLine, CountList, Move, UnitNow, Vehicle

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True)
class CountLineView:
    """One unit of the list. `counted`: it was seen since the list was drawn, `where` says at which place it is now."""

    number: str
    model: str
    where: str
    here: bool
    reasons: tuple[str, ...]
    points: int
    counted: bool
    seen_at: datetime
    seen_by: str


@dataclass(frozen=True)
class CountListView:
    """The list of one day, what is still to be counted first."""

    drawn_at: datetime
    lines: tuple[CountLineView, ...]

    @property
    def left(self) -> int:
        """Units that nobody has seen since the list was drawn."""
        return sum(not line.counted for line in self.lines)


def count_list(*, warehouse_id: int, day: date) -> CountListView | None:
    """The list of that day, if it was drawn. Two queries."""
    drawn = CountList.objects.filter(warehouse=warehouse_id, day=day).first()
    if drawn is None:
        return None
    rows = CountLine.objects.filter(count_list=drawn).select_related(
        "unit__model", "unit__now__holder", "unit__now__seen_by"
    )
    lines = [_line(row, drawn, warehouse_id) for row in rows]
    return CountListView(drawn.drawn_at, tuple(sorted(lines, key=lambda line: (line.counted, -line.points))))


def _line(row: CountLine, drawn: CountList, warehouse_id: int) -> CountLineView:
    now = row.unit.now
    return CountLineView(
        number=row.unit.number,
        model=row.unit.model.name,
        where=str(now.holder),
        here=now.holder.warehouse_id == warehouse_id,
        reasons=tuple(row.reasons),
        points=row.points,
        counted=now.seen_at > drawn.drawn_at,
        seen_at=now.seen_at,
        seen_by=_name(now),
    )


def _name(now: UnitNow) -> str:
    return now.seen_by.get_full_name() or now.seen_by.get_username()


@dataclass(frozen=True)
class VehicleToCount:
    """One vehicle: how many units the record has aboard, and when the one longest unseen was seen."""

    code: str
    name: str
    aboard: int
    longest_unseen: datetime | None


def vehicles_to_count(*, warehouse_id: int, at_most: int = 60) -> tuple[VehicleToCount, ...]:
    """The vehicles at home at a warehouse, the one with the longest unseen unit first. One query."""
    rows = Vehicle.objects.filter(home=warehouse_id).annotate(
        aboard=Count("holder__units_now"), longest_unseen=Min("holder__units_now__seen_at")
    )
    found = [VehicleToCount(row.code, row.name, row.aboard, row.longest_unseen) for row in rows]
    found.sort(key=lambda one: (one.longest_unseen is None, one.longest_unseen or EPOCH, one.name))
    return tuple(found[:at_most])


@dataclass(frozen=True)
class Counting:
    """One unit aboard, and whether it was seen since the count began."""

    number: str
    model: str
    condition: str
    counted: bool
    extra: bool
    said: str
    seen_at: datetime
    seen_by: str


@dataclass(frozen=True)
class VehicleCount:
    """A whole vehicle: what the record has aboard against what was scanned since `began_at`."""

    began_at: datetime
    units: tuple[Counting, ...]

    @property
    def address(self) -> str:
        """The part of the page's address that keeps its forms in this count."""
        return "?" + urlencode({"began": self.began_at.isoformat()})

    @property
    def missing(self) -> tuple[Counting, ...]:
        """Not scanned since the count began."""
        return tuple(unit for unit in self.units if not unit.counted)

    @property
    def seen(self) -> tuple[Counting, ...]:
        """Scanned, and aboard by the record."""
        return tuple(unit for unit in self.units if unit.counted and not unit.extra)

    @property
    def extra(self) -> tuple[Counting, ...]:
        """Scanned, though the record had it elsewhere."""
        return tuple(unit for unit in self.units if unit.extra)


def vehicle_count(*, vehicle_id: int, began_at: datetime, at_most: int = 300) -> VehicleCount:
    """Two queries."""
    rows = (
        UnitNow.objects.filter(holder__vehicle=vehicle_id)
        .select_related("unit__model", "seen_by")
        .order_by("seen_at", "unit__number")[:at_most]
    )
    found = {
        move.unit_id: str(move.from_holder)
        for move in Move.objects.filter(
            to_holder__vehicle=vehicle_id, why=Move.Why.FOUND, recorded_at__gte=began_at, corrected_by=None
        ).select_related("from_holder")
    }
    return VehicleCount(
        began_at,
        tuple(
            Counting(
                number=row.unit.number,
                model=row.unit.model.name,
                condition=row.get_condition_display(),
                counted=row.seen_at >= began_at,
                extra=row.unit_id in found,
                said=found.get(row.unit_id, ""),
                seen_at=row.seen_at,
                seen_by=_name(row),
            )
            for row in rows
        ),
    )
