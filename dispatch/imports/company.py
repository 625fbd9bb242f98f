"""The use case: a company's master data, all of it or none."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID
from zoneinfo import ZoneInfo, available_timezones

from django.conf import settings
from django.contrib.auth.models import User

from dispatch.imports import write_equipment, write_people, write_rota, write_rules, write_units
from dispatch.imports.checks import Checked, Known, check
from dispatch.models import Person
from equipment import stock_lists
from equipment.models import EquipmentModel, Vehicle, Warehouse
from equipment.sheets.checking import refuse_bad
from equipment.sheets.reading import Sheet
from jobs import access
from jobs.areas import OtherArea
from jobs.models import Area
from jobs.use_case import key_for, use_case


@dataclass(frozen=True)
class Imported:
    """How many rows of each file were written."""

    rows: dict[str, int]


def look_over(sheets: Sequence[Sheet], *, now: datetime, today: date | None = None) -> Checked:
    """
    The dry run: every bad row, and what would be written. Reads the database, writes nothing.

    :param today: the day that days such as +30 count from; None = the local day of `now`.
    """
    return check(sheets, today=today or _today(sheets, now), known=_known())


@use_case("import_company", private=("sheets",))
def import_company(
    *, key: UUID, actor: User, now: datetime, sheets: tuple[Sheet, ...], today: date | None = None
) -> Imported:
    """
    Write the company's areas, warehouses, vehicles, equipment, people, cards, licenses, payers, state rules and rota.

    Rows that are there already are brought up to date; a unit that is there already stays where it is.

    :raises BadRows: if any row is bad; `problems` holds them all, and nothing was written.
    :raises OtherArea: if the actor is no manager of all areas: payers, rules and equipment models are everybody's.
    """
    if access.areas_for(actor, "import_company") is not None:
        raise OtherArea("A company's lists are imported by a manager of all areas. Ask one, or import units by area.")
    found = look_over(sheets, now=now, today=today)
    refuse_bad(found.problems)
    rows = found.rows
    write_equipment.write_areas(rows["areas"])
    write_equipment.write_warehouses(rows["warehouses"])
    stock_lists.write_models(rows["equipment_models"])
    write_equipment.write_vehicles(rows["vehicles"], rows["vehicle_kinds"], rows["standing_stock"])
    write_equipment.write_counted_stock(rows["accessory_stock"], rows["accessories"], now=now)
    write_units.write_units(rows["units"], key=key_for(key, "units"), actor=actor, now=now)
    write_people.write_people(rows["people"])
    write_people.write_cards(rows["cards"])
    write_people.write_firm_licenses(rows["firm_licenses"])
    write_rules.write_payers(rows["payers"])
    write_rules.write_state_rules(rows["state_rules"])
    write_rota.write_shifts(rows["shifts"])
    write_rota.write_crews(rows["crews"])
    write_rota.write_call_out_order(rows["call_out_order"])
    return Imported({name: len(good) for name, good in rows.items() if good})


def _known() -> Known:
    """What files may refer to because it is in the database already."""
    return {
        "areas": frozenset(Area.objects.values_list("code", flat=True)),
        "warehouses": frozenset(Warehouse.objects.values_list("code", flat=True)),
        "vehicles": frozenset(Vehicle.objects.values_list("code", flat=True)),
        "equipment_models": frozenset(EquipmentModel.objects.values_list("code", flat=True)),
        "people": frozenset(Person.objects.values_list("user__username", flat=True)),
    }


def _today(sheets: Sequence[Sheet], now: datetime) -> date:
    """The local day of the first area: the files' own, else the database's, else the settings'."""
    named = [row.cells.get("time_zone", "") for sheet in sheets if sheet.name == "areas" for row in sheet.rows]
    zones = [*named, *Area.objects.order_by("pk").values_list("time_zone", flat=True)[:1], settings.TIME_ZONE]
    # A zone that does not exist is named among the problems; the days are then counted in the next one.
    known = available_timezones()
    return now.astimezone(ZoneInfo(next(zone for zone in zones if zone in known))).date()
