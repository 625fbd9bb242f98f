"""A vehicle goes into the workshop and comes back: while it is there, what is aboard counts for nothing."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.contrib.auth.models import User

from equipment import locks
from equipment.models import Pool, UnitNow, Vehicle
from equipment.reservations import facts
from jobs import journal
from jobs.refusals import NotThere
from jobs.use_case import use_case


@dataclass(frozen=True)
class VehicleNow:
    """Whether it is in the workshop, and how many units are aboard, which then count for nothing."""

    vehicle_id: int
    name: str
    in_workshop: bool
    aboard: int


@use_case("change_vehicle")
def change_vehicle(*, key: UUID, actor: User, now: datetime, vehicle_id: int, in_workshop: bool) -> VehicleNow:
    """
    Say that a vehicle is in the workshop, or back. A fact is never refused: where what is aboard was promised, an
    alarm is raised.

    :raises NotThere: if there is no such vehicle.
    """
    pools = set(Pool.objects.filter(place__vehicle=vehicle_id).values_list("pk", flat=True))
    locks.lock_pools(pools)
    vehicle = Vehicle.objects.select_for_update(of=("self",)).filter(pk=vehicle_id).first()
    if vehicle is None:
        raise NotThere(f"There is no vehicle {vehicle_id}. Choose one from the list.", where="vehicle_id")
    if vehicle.in_workshop != in_workshop:
        vehicle.in_workshop = in_workshop
        vehicle.save(update_fields=["in_workshop"])
        data = {"vehicle": vehicle.pk, "in_workshop": in_workshop}
        journal.note(kind="vehicle_changed", actor=actor, now=now, area_id=vehicle.area_id, data=data)
        facts.warn_if_over(pools, actor=actor, now=now)
    aboard = UnitNow.objects.filter(holder__vehicle=vehicle).count()
    return VehicleNow(vehicle.pk, vehicle.name, in_workshop, aboard)
