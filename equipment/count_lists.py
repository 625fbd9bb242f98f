"""The daily counting list of a warehouse: twenty units, chosen by risk, drawn once a day."""

from datetime import datetime, timedelta
from uuid import UUID

from django.contrib.auth.models import User
from django.db.models import Count, F, Q

from equipment.models import CountLine, CountList, Discrepancy, Holder, Move, UnitNow, Warehouse
from equipment.stock.count_risk import Facts, choose
from jobs.refusals import NotThere
from jobs.use_case import use_case

YEAR = timedelta(days=365)


@use_case("draw_count_list")
def draw_count_list(*, key: UUID, actor: User, now: datetime, warehouse_id: int) -> int:
    """
    Draw today's list, in the warehouse's own day; the one that was drawn before stays as it is. The list's id.

    :raises NotThere: if there is no such warehouse.
    """
    warehouse = Warehouse.objects.select_related("area").filter(pk=warehouse_id).first()
    if warehouse is None:
        raise NotThere(f"There is no warehouse {warehouse_id}. Choose one from the list.", where="warehouse_id")
    drawn, new = CountList.objects.get_or_create(
        warehouse=warehouse,
        day=now.astimezone(warehouse.area.zone).date(),
        defaults={"drawn_at": now, "drawn_by": actor},
    )
    if new:
        CountLine.objects.bulk_create(
            CountLine(count_list=drawn, unit_id=unit.unit_id, points=unit.points, reasons=list(unit.reasons))
            for unit in choose(_facts(warehouse_id, now))
        )
    return drawn.pk


def _facts(warehouse_id: int, now: datetime) -> list[Facts]:
    rows = list(UnitNow.objects.filter(holder__warehouse=warehouse_id).select_related("unit__model"))
    here = UnitNow.objects.filter(holder__warehouse=warehouse_id).values("unit_id")
    lately = Move.objects.filter(unit__in=here, happened_at__gt=now - YEAR, corrected_by=None)
    left = lately.filter(from_holder__kind=Holder.Kind.JOB).filter(
        Q(from_holder__job__closed_at__lt=F("happened_at")) | Q(discrepancies__isnull=False)
    )
    times_left = dict(left.values_list("unit_id").annotate(n=Count("id", distinct=True)))
    times_missing = dict(lately.filter(why=Move.Why.NOT_FOUND).values_list("unit_id").annotate(n=Count("id")))
    still_open = Discrepancy.objects.filter(unit__in=here, settled_at=None)
    differences = dict(still_open.values_list("unit_id").annotate(n=Count("id")))
    return [
        Facts(
            unit_id=row.unit_id,
            number=row.unit.number,
            kind=row.unit.model.kind,
            days_unseen=max(0, (now - row.seen_at).days),
            times_left=times_left.get(row.unit_id, 0),
            times_missing=times_missing.get(row.unit_id, 0),
            open_differences=differences.get(row.unit_id, 0),
            rented=row.unit.rented,
        )
        for row in rows
    ]
