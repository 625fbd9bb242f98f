"""What must be looked at: open alarms and open discrepancies."""

from dataclasses import dataclass
from datetime import datetime

from equipment.models import Alarm, Discrepancy


@dataclass(frozen=True)
class AlarmView:
    """One alarm that nobody has settled."""

    id: int
    kind: str
    text: str
    job_id: int | None
    job_number: str
    raised_at: datetime


def open_alarms(*, area_id: int, at_most: int = 50) -> tuple[AlarmView, ...]:
    """The newest first. One query."""
    rows = Alarm.objects.filter(area=area_id, settled_at=None).select_related("job").order_by("-raised_at", "-id")
    return tuple(
        AlarmView(row.pk, row.kind, row.text, row.job_id, row.job.number if row.job else "", row.raised_at)
        for row in rows[:at_most]
    )


@dataclass(frozen=True)
class DiscrepancyView:
    """One difference between record and floor that nobody has explained."""

    id: int
    number: str
    model: str
    said: str
    found: str
    opened_at: datetime


def open_discrepancies(*, area_id: int, at_most: int = 50) -> tuple[DiscrepancyView, ...]:
    """The oldest first. One query."""
    rows = (
        Discrepancy.objects.filter(unit__now__holder__area=area_id, settled_at=None)
        .select_related("unit__model")
        .order_by("opened_at", "id")
    )
    return tuple(
        DiscrepancyView(row.pk, row.unit.number, row.unit.model.name, row.said, row.found, row.opened_at)
        for row in rows[:at_most]
    )
