"""Taking a list in: all of it, or nothing where any row is bad."""

from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import Any
from uuid import UUID

from django.contrib.auth.models import User

from equipment.models import EquipmentModel, Holder, Unit, Vehicle, Warehouse
from equipment.opening import Opening, enter_units
from equipment.sheets.checking import GoodRow, refuse_bad
from equipment.stock_lists.looking import Change, LookedOver, look_over
from equipment.stock_lists.models_list import EQUIVALENTS, FIELDS, write_equivalents, write_models
from jobs import journal
from jobs.use_case import key_for, use_case


@dataclass(frozen=True)
class Imported:
    """How many rows were entered, were changed, and stayed as they were."""

    new: int
    changed: int
    same: int


@use_case("import_models")
def import_models(*, key: UUID, actor: User, now: datetime, area_id: int, text: str) -> Imported:
    """
    Enter the models that are new; bring those that are known up to date, as far as the file has the column.

    :param text: the CSV file's text, as `models_csv` writes it.
    :raises SheetUnusable: if it is no table.
    :raises BadRows: if any row is bad; `problems` holds them all, and nothing was written.
    """
    found = _good(look_over(list_name="models", text=text, area_id=area_id, now=now))
    write_models(found.new)
    values = _values(found)
    rows = {row.code: row for row in EquipmentModel.objects.select_for_update().filter(code__in=values)}
    write_equivalents({code: fields.pop(EQUIVALENTS) for code, fields in values.items() if EQUIVALENTS in fields})
    for code, fields in values.items():
        for column, value in fields.items():
            setattr(rows[code], FIELDS[column], value)
        rows[code].save(update_fields=[FIELDS[column] for column in fields])
    return _told(found, "models_imported", actor, now, area_id)


@use_case("import_units")
def import_units(*, key: UUID, actor: User, now: datetime, area_id: int, text: str) -> Imported:
    """
    Enter the units that are new; of those that are known, bring supplier, supplier's number and daily cost up to date.

    :param text: the CSV file's text, as `units_csv` writes it.
    :raises SheetUnusable: if it is no table.
    :raises BadRows: if any row is bad; `problems` holds them all, and nothing was written.
    """
    found = _good(look_over(list_name="units", text=text, area_id=area_id, now=now))
    if found.new:
        entries = _openings(found.new)
        enter_units(key=key_for(key, "new"), actor=actor, now=now, area_id=area_id, entries=entries, note="from a file")
    values = _values(found)
    rows = {row.number: row for row in Unit.objects.select_for_update().filter(number__in=values)}
    fields = {"supplier": "supplier", "supplier_number": "supplier_number", "daily_cost_usd": "daily_cost"}
    for number, changed in values.items():
        for column, value in changed.items():
            setattr(rows[number], fields[column], value)
        rows[number].save(update_fields=[fields[column] for column in changed])
    return _told(found, "units_imported", actor, now, area_id)


def _good(found: LookedOver) -> LookedOver:
    refuse_bad(found.problems)
    return found


def _values(found: LookedOver) -> dict[str, dict[str, Any]]:
    """The new values by row and column."""
    by_key = groupby(sorted(found.changes, key=_key_of), _key_of)
    return {key: {change.column: change.value for change in changes} for key, changes in by_key}


def _key_of(change: Change) -> str:
    return change.key


def _openings(rows: tuple[GoodRow, ...]) -> tuple[Opening, ...]:
    places = {(str(Holder.Kind.VEHICLE), code): pk for pk, code in Vehicle.objects.values_list("pk", "code")}
    places |= {(str(Holder.Kind.WAREHOUSE), code): pk for pk, code in Warehouse.objects.values_list("pk", "code")}
    return tuple(
        Opening(
            number=row.values["number"],
            model_code=row.values["model"],
            holder=row.values["holder"],
            place_id=places.get((row.values["holder"], row.values["place"])),
            room_name=row.values["room"] or "",
            condition=row.values["condition"],
            water_category=row.values["water_category"],
            hour_meter=row.values["hour_meter_h"],
            rented=row.values["rented"],
            supplier=row.values["supplier"] or "",
            supplier_number=row.values["supplier_number"] or "",
            daily_cost=row.values["daily_cost_usd"],
        )
        for row in rows
    )


def _told(found: LookedOver, kind: str, actor: User, now: datetime, area_id: int) -> Imported:
    """A changed value keeps the old one, in the journal with author and time."""
    imported = Imported(len(found.new), len({change.key for change in found.changes}), found.same)
    if not found.changes_nothing:
        changed = [[change.key, change.column, change.was, change.becomes] for change in found.changes]
        data = {"new": imported.new, "changed": changed}
        journal.note(kind=kind, actor=actor, now=now, area_id=area_id, data=data)
    return imported
