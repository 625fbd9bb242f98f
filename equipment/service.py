"""Recording that a unit was serviced, by its hour meter."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.contrib.auth.models import User

from equipment.models import Service, UnitNow
from equipment.numbers import unit_number
from jobs.refusals import NotThere, Refusal, Unusable
from jobs.use_case import use_case


class MeterUnknown(Refusal):
    """A service is counted by the hour meter, and this unit's was never read."""

    code = "meter_unknown"
    status = 422


@dataclass(frozen=True)
class Serviced:
    """A service as kept; `next_due_h` is the meter at the next one, None where the model has no interval."""

    number: str
    model: str
    hour_meter: float
    next_due_h: float | None


@use_case("record_service")
def record_service(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    number: str,
    hour_meter: float | None = None,
    note: str = "",
    happened_at: datetime | None = None,
) -> Serviced:
    """
    Say that a unit had its full service; the hours to the next one count from here.

    :param hour_meter: hours on the meter; without it, the newest reading of the record.
    :raises NotThere: if no unit has the number.
    :raises MeterUnknown: if no reading is given and none is on record.
    :raises Unusable: if the reading cannot be meant.
    """
    row = UnitNow.objects.select_related("unit__model").filter(unit__number=unit_number(number)).first()
    if row is None:
        raise NotThere(f"No unit has the number {number}. Read the tag again.", where="number")
    hours = row.hour_meter if hour_meter is None else hour_meter
    if hours is None:
        raise MeterUnknown(f"No hour meter of {row.unit.number} was ever read. Read it now.", where="hour_meter")
    if not 0 <= hours < 1_000_000:
        raise Unusable(f"{hours:g} is no reading of an hour meter. Write 0 to 999999.", where="hour_meter")
    at = min(happened_at or now, now)
    Service.objects.create(unit=row.unit, hour_meter=hours, at=at, recorded_at=now, actor=actor, note=note[:200])
    interval = row.unit.model.service_hours
    return Serviced(row.unit.number, row.unit.model.name, hours, None if interval is None else hours + interval)
