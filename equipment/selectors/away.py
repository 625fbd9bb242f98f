"""Units that cost while they are away or here: rented ones, and those that need repair."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db.models import Q

from equipment.models import Condition, Holder, Move, Unit, UnitNow


@dataclass(frozen=True)
class RentedUnit:
    """One rented unit. `cost_so_far` counts begun days, as a guide: the supplier's terms decide."""

    number: str
    supplier_number: str
    supplier: str
    model: str
    where: str
    at_job: bool
    condition: str
    since: datetime
    days: int
    daily_cost: Decimal
    cost_so_far: Decimal
    call_off_number: str
    called_off_at: datetime | None


@dataclass(frozen=True)
class Rentals:
    """What is rented now, the longest first, and what was called off lately."""

    running: tuple[RentedUnit, ...]
    called_off: tuple[RentedUnit, ...]

    @property
    def daily_cost(self) -> Decimal:
        """What all that is rented now costs a day, in dollars."""
        return sum((unit.daily_cost for unit in self.running), Decimal(0))


def rentals(*, area_id: int, now: datetime, at_most: int = 200) -> Rentals:
    """Three queries."""
    rows = Unit.objects.filter(rented=True, model__loan=None, now__holder__area=area_id).select_related(
        "model", "now__holder"
    )
    running = list(rows.filter(called_off_at=None).order_by("number")[:at_most])
    ended = list(rows.exclude(called_off_at=None).order_by("-called_off_at", "number")[:20])
    came = dict(
        Move.objects.filter(unit__in=[*running, *ended], why__in=[Move.Why.RENTED_IN, Move.Why.OPENING])
        .order_by("-happened_at")
        .values_list("unit_id", "happened_at")
    )
    views = [_rented(unit, came.get(unit.pk, unit.now.since), now) for unit in (*running, *ended)]
    still = sorted(views[: len(running)], key=lambda unit: (unit.since, unit.number))
    return Rentals(tuple(still), tuple(views[len(running) :]))


def _rented(unit: Unit, since: datetime, now: datetime) -> RentedUnit:
    days = max(0, ((unit.called_off_at or now) - since).days) + 1
    cost = unit.daily_cost or Decimal(0)
    return RentedUnit(
        number=unit.number,
        supplier_number=unit.supplier_number,
        supplier=unit.supplier,
        model=unit.model.name,
        where=str(unit.now.holder),
        at_job=unit.now.holder.kind == Holder.Kind.JOB,
        condition=unit.now.get_condition_display(),
        since=since,
        days=days,
        daily_cost=cost,
        cost_so_far=cost * days,
        call_off_number=unit.call_off_number,
        called_off_at=unit.called_off_at,
    )


@dataclass(frozen=True)
class ToRepair:
    """One unit that needs repair: `out` with the repairer, or still here. `fault` is what was said of it last."""

    number: str
    model: str
    place: str
    out: bool
    since: datetime
    fault: str
    by: str


def repairs(*, area_id: int, warehouse_id: int, at_most: int = 100) -> tuple[ToRepair, ...]:
    """Broken units at the warehouse, then those out with the repairer; the longest first of each. Two queries."""
    rows = list(
        UnitNow.objects.filter(
            Q(holder__kind=Holder.Kind.REPAIR, holder__area=area_id)
            | Q(holder__warehouse=warehouse_id, condition=Condition.BROKEN)
        )
        .select_related("unit__model", "holder")
        .order_by("since", "unit__number")[:at_most]
    )
    said = {
        move.unit_id: move
        for move in Move.objects.filter(
            unit__in=[row.unit_id for row in rows], condition_after=Condition.BROKEN, corrected_by=None
        )
        .exclude(note="")
        .select_related("actor")
        .order_by("happened_at", "id")
    }
    return tuple(sorted((_to_repair(row, said.get(row.unit_id)) for row in rows), key=lambda row: row.out))


def _to_repair(row: UnitNow, said: Move | None) -> ToRepair:
    return ToRepair(
        number=row.unit.number,
        model=row.unit.model.name,
        place=str(row.holder),
        out=row.holder.kind == Holder.Kind.REPAIR,
        since=row.since,
        fault=said.note if said else "",
        by=(said.actor.get_full_name() or said.actor.get_username()) if said else "",
    )
