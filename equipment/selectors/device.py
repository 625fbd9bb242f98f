"""The list of units that a device keeps, to answer scans without a network."""

from dataclasses import dataclass

from equipment.custody.find import condition_away_from_job
from equipment.models import Condition, UnitNow


@dataclass(frozen=True)
class KeptUnit:
    """One unit: `stop` where it must not go out, because it is not decontaminated after category 3 water."""

    number: str
    model: str
    where: str
    state: str
    stop: bool


def units_for_device(*, area_id: int) -> tuple[KeptUnit, ...]:
    """Every unit that the record has in the area, by number. One query."""
    rows = UnitNow.objects.filter(holder__area=area_id).select_related("unit__model", "holder__job")
    return tuple(
        KeptUnit(
            row.unit.number,
            row.unit.model.name,
            str(row.holder),
            row.get_condition_display(),
            condition_away_from_job(row) == Condition.HELD_BACK,
        )
        for row in rows.order_by("unit__number")
    )
