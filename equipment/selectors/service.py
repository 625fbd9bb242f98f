"""Which units are due for service by their hour meters."""

from dataclasses import dataclass

from django.db.models import F, FloatField, OuterRef, Subquery, Value
from django.db.models.functions import Coalesce

from equipment.models import Condition, Service, UnitNow


@dataclass(frozen=True)
class DueForService:
    """A unit that ran `hours` since its last service (or since new), where its model asks for one every `every_h`."""

    number: str
    model: str
    hours: float
    every_h: int
    hour_meter: float
    ready: bool

    @property
    def over_h(self) -> float:
        """Hours beyond the interval."""
        return self.hours - self.every_h


def due_for_service(*, warehouse_id: int, at_most: int = 200) -> tuple[DueForService, ...]:
    """Units at a warehouse that have run longer than their model's interval, the longest over first. One query."""
    last = Service.objects.filter(unit=OuterRef("unit")).order_by("-at", "-pk").values("hour_meter")[:1]
    rows = (
        UnitNow.objects.filter(holder__warehouse=warehouse_id, hour_meter__isnull=False)
        .exclude(unit__model__service_hours=None)
        .annotate(ran=F("hour_meter") - Coalesce(Subquery(last), Value(0.0), output_field=FloatField()))
        .filter(ran__gte=F("unit__model__service_hours"))
        .annotate(over=F("ran") - F("unit__model__service_hours"))
        .order_by("-over", "unit__number")
        .values_list(
            "unit__number",
            "unit__model__name",
            "ran",
            "unit__model__service_hours",
            "hour_meter",
            "condition",
        )
    )
    return tuple(
        DueForService(number, model, ran, every, meter, condition == Condition.READY)
        for number, model, ran, every, meter, condition in rows[:at_most]
        if every is not None and meter is not None
    )
