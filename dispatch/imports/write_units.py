"""Entering units through custody. A unit that is there already stays where it is."""

from collections.abc import Sequence
from datetime import datetime
from uuid import UUID

from django.contrib.auth.models import User

from equipment.models import Unit, Vehicle, Warehouse
from equipment.opening import Opening, enter_units
from equipment.sheets.checking import GoodRow
from jobs.refusals import Refusal
from jobs.use_case import key_for


class UnitIsAnother(Refusal):
    """A number in the file belongs to a unit of another model."""

    code = "unit_is_another"
    status = 409


def write_units(rows: Sequence[GoodRow], *, key: UUID, actor: User, now: datetime) -> None:
    """
    Enter the units that are new, by area.

    :raises UnitIsAnother: if a number belongs to a unit of another model.
    """
    there = dict(Unit.objects.values_list("number", "model__code"))
    for row in rows:
        model = there.get(row.values["number"], row.values["model"])
        if model != row.values["model"]:
            raise UnitIsAnother(
                f"units.csv line {row.line}: number {row.values['number']} belongs to a unit of model {model}, "
                f"not {row.values['model']}. Give the new unit a number of its own."
            )
    vehicles = {vehicle.code: vehicle for vehicle in Vehicle.objects.all()}
    warehouses = {warehouse.code: warehouse for warehouse in Warehouse.objects.all()}
    by_area: dict[int, list[Opening]] = {}
    for row in rows:
        values = row.values
        if values["number"] in there:
            continue
        place = vehicles[values["place"]] if values["holder"] == "vehicle" else warehouses[values["place"]]
        by_area.setdefault(place.area_id, []).append(
            Opening(
                number=values["number"],
                model_code=values["model"],
                holder=values["holder"],
                place_id=place.pk if values["holder"] in {"warehouse", "vehicle"} else None,
                condition=values["condition"],
                water_category=values["water_category"],
                hour_meter=values["hour_meter_h"],
                rented=values["rented"],
                supplier=values["supplier"] or "",
                supplier_number=values["supplier_number"] or "",
                daily_cost=values["daily_cost_usd"],
            )
        )
    for area_id, entries in by_area.items():
        enter_units(key=key_for(key, f"area {area_id}"), actor=actor, now=now, area_id=area_id, entries=tuple(entries))
