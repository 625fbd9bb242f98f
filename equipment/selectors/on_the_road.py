"""What was sent from one warehouse to another and has not been received."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from equipment.models import Condition, Holder, Move, UnitNow
from equipment.places import road_name

# A unit that is longer on the road than this is asked after: a working day and the night (our own choice).
LATE = timedelta(hours=24)


@dataclass(frozen=True)
class OnTheRoad:
    """One unit between two warehouses. `late`: so long under way that somebody should ask after it."""

    number: str
    model: str
    condition: str
    held_back: bool
    origin: str
    where: str
    sent_at: datetime
    sent_by: str
    note: str
    late: bool


@dataclass(frozen=True)
class Road:
    """What is under way to a warehouse, and what is under way from it; the longest under way first."""

    coming: tuple[OnTheRoad, ...]
    going: tuple[OnTheRoad, ...]


def on_the_road(*, warehouse_id: int, now: datetime, at_most: int = 200) -> Road:
    """Units sent and not received, to and from a warehouse. Four queries."""
    here = Holder.objects.filter(warehouse=warehouse_id).values_list("name", flat=True).first()
    road = road_name(here or "")
    rows = UnitNow.objects.filter(holder__kind=Holder.Kind.ROAD).select_related("unit__model", "holder")
    coming = list(rows.filter(holder__name=road).order_by("since", "unit__number")[:at_most])
    # Those still on the road whose last sending left from here.
    sent_here = Move.objects.filter(why=Move.Why.SENT, from_holder__warehouse=warehouse_id).values("unit_id")
    going = list(rows.filter(unit__in=sent_here).exclude(holder__name=road).order_by("since", "unit__number")[:at_most])
    sendings = _last_sendings(row.unit_id for row in (*coming, *going))
    return Road(
        tuple(_line(row, sendings.get(row.unit_id), now) for row in coming),
        tuple(
            _line(row, sending, now)
            for row in going
            if (sending := sendings.get(row.unit_id)) is not None
            and sending.from_holder is not None
            and sending.from_holder.warehouse_id == warehouse_id
        ),
    )


def _last_sendings(unit_ids: Iterable[int]) -> dict[int, Move]:
    moves = (
        Move.objects.filter(unit__in=list(unit_ids) or [0], why=Move.Why.SENT, corrected_by=None)
        .select_related("from_holder", "actor")
        .order_by("happened_at", "id")
    )
    return {move.unit_id: move for move in moves}


def _line(row: UnitNow, sending: Move | None, now: datetime) -> OnTheRoad:
    by = sending.actor.get_full_name() or sending.actor.get_username() if sending else ""
    return OnTheRoad(
        number=row.unit.number,
        model=row.unit.model.name,
        condition=row.get_condition_display(),
        held_back=row.condition == Condition.HELD_BACK,
        origin=str(sending.from_holder) if sending and sending.from_holder else "",
        where=str(row.holder),
        sent_at=row.since,
        sent_by=by,
        note=sending.note if sending else "",
        late=now - row.since > LATE,
    )
