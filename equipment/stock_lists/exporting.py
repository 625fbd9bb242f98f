"""Writing the lists out, in the columns in which they are read."""

from collections.abc import Iterator

from equipment.models import EquipmentModel, Holder, UnitNow
from equipment.sheets.writing import csv_text
from equipment.stock_lists.models_list import EQUIPMENT_MODELS, EQUIVALENTS, FIELDS
from equipment.stock_lists.units_list import UNITS


def models_csv() -> str:
    """Every equipment model, by code. Two queries."""
    rows = EquipmentModel.objects.filter(loan=None).order_by("code").prefetch_related("equivalents")
    return csv_text(
        [column.name for column in EQUIPMENT_MODELS.columns], (tuple(model_cells(row).values()) for row in rows)
    )


def model_cells(row: EquipmentModel) -> dict[str, object]:
    """A model's values by column."""
    fields: dict[str, object] = {name: getattr(row, field) for name, field in FIELDS.items()}
    return fields | {EQUIVALENTS: " ".join(sorted(other.code for other in row.equivalents.all()))}


def units_csv(*, area_id: int) -> str:
    """Every unit of an area, by number, with where the record has it now. One query."""
    return csv_text([column.name for column in UNITS.columns], (tuple(row.values()) for row in unit_rows(area_id)))


def unit_rows(area_id: int) -> Iterator[dict[str, object]]:
    """The values of each unit of an area by column."""
    rows = UnitNow.objects.filter(holder__area=area_id, unit__model__loan=None).select_related(
        "unit__model", "holder__warehouse", "holder__vehicle", "holder__job"
    )
    return (unit_cells(row) for row in rows.order_by("unit__number"))


def unit_cells(row: UnitNow) -> dict[str, object]:
    """A unit's values by column."""
    unit = row.unit
    return {
        "number": unit.number,
        "model": unit.model.code,
        "holder": row.holder.kind,
        "place": place_word(row.holder),
        "room": row.room_name,
        "condition": row.condition,
        "water_category": row.water_category,
        "hour_meter_h": row.hour_meter,
        "rented": unit.rented,
        "supplier": unit.supplier,
        "supplier_number": unit.supplier_number,
        "daily_cost_usd": unit.daily_cost,
    }


def place_word(holder: Holder) -> str:
    """A warehouse's or vehicle's code, a job's number, else the holder's name."""
    if holder.warehouse is not None:
        return holder.warehouse.code
    if holder.vehicle is not None:
        return holder.vehicle.code
    return holder.job.number if holder.job is not None else holder.name
