"""Where air is read at a stop: each chamber, outside, unaffected, and each dehumidifier's outlet."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from dispatch.crew.readings import AirToday
from equipment.models import UnitNow
from equipment.sizing.advice import DRYERS
from jobs.drying_log import AirLine
from jobs.models import AirReading

INSIDE, OUTLET = AirReading.Where.INSIDE, AirReading.Where.OUTLET


@dataclass(frozen=True)
class AirSlot:
    """One pair of fields, `t_KEY` and `h_KEY`, with what was read there last and what was typed."""

    key: str
    where: str
    label: str
    chamber: str
    unit: str
    last: AirLine | None
    t: str
    h: str

    @property
    def names_unit(self) -> bool:
        """Whether the unit is still to be named: at an outlet of which the record knows no dehumidifier."""
        return self.where == OUTLET and not self.unit


def dryers_at(job_id: int) -> tuple[tuple[str, str], ...]:
    """Number and room of each dehumidifier on record at the job (1 query)."""
    rows = UnitNow.objects.filter(holder__job_id=job_id, unit__model__kind__in=DRYERS).order_by("unit__number")
    return tuple(rows.values_list("unit__number", "room_name"))


def air_slots(
    air: Sequence[AirToday],
    typed: Mapping[str, str],
    *,
    rooms: Mapping[str, str],
    dryers: Sequence[tuple[str, str]],
) -> tuple[AirSlot, ...]:
    """Every pair of fields, in the order of the walk. `rooms` is chamber by room."""
    chambers = sorted(set(rooms.values()))
    slots: list[AirSlot] = []
    for place in air:
        where, label = place.where, place.label
        if where == INSIDE and len(chambers) > 1:
            for number, chamber in enumerate(chambers, start=1):
                key = where if number == 1 else f"{where}_{number}"
                last = next((line for line in place.last if line.chamber == chamber), None)
                slots.append(_slot(key, where, f"{label}, {chamber}", chamber, "", last, typed))
        elif where == OUTLET and dryers:
            for unit, room in dryers:
                last = next((line for line in place.last if line.unit_number == unit), None)
                chamber = rooms.get(room) or (last.chamber if last else "")
                slots.append(_slot(f"{where}_{unit}", where, f"outlet of {unit}", chamber, unit, last, typed))
        else:
            last = place.last[-1] if place.last else None
            slots.append(_slot(where, where, label, "", "", last, typed))
    return tuple(slots)


def _slot(
    key: str, where: str, label: str, chamber: str, unit: str, last: AirLine | None, typed: Mapping[str, str]
) -> AirSlot:
    return AirSlot(key, where, label, chamber, unit, last, typed.get(f"t_{key}", ""), typed.get(f"h_{key}", ""))
