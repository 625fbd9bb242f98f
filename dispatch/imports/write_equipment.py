"""Writing places, vehicles, models and counted things. What is there already is brought up to date."""

from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime

from equipment.models import CountedStock, Vehicle, Warehouse
from equipment.places import holder_for_vehicle, holder_for_warehouse
from equipment.sheets.checking import GoodRow
from equipment.stock_lists.models_list import EQUIPMENT_KINDS
from jobs.models import Area


def write_areas(rows: Sequence[GoodRow]) -> None:
    """Service areas by code."""
    for row in rows:
        Area.objects.update_or_create(
            code=row.values["code"],
            defaults={
                "name": row.values["name"],
                "time_zone": row.values["time_zone"],
                "phone": row.values["phone"] or "",
            },
        )


def write_warehouses(rows: Sequence[GoodRow]) -> None:
    """Warehouses by code, each with its holder."""
    areas = {area.code: area for area in Area.objects.all()}
    for row in rows:
        values = row.values
        warehouse, _ = Warehouse.objects.update_or_create(
            code=values["code"],
            defaults={
                "area": areas[values["area"]],
                "zip_code": values["zip"],
                "load_s": values["load_minutes"] * 60,
                **{name: values[name] for name in ("name", "street", "town", "state", "lat", "lon")},
            },
        )
        holder_for_warehouse(warehouse.pk)


def write_vehicles(rows: Sequence[GoodRow], kinds: Sequence[GoodRow], standing: Sequence[GoodRow]) -> None:
    """
    Vehicles by code, each with its holder, with capacity and standing stock of its kind.

    A vehicle that draws a trailer is rated as the two together (49 CFR 390.5): that rating is what driver rules ask.
    """
    warehouses = {warehouse.code: warehouse for warehouse in Warehouse.objects.all()}
    by_code = {row.values["code"]: row.values for row in kinds}
    stock: dict[str, dict[str, int]] = defaultdict(dict)
    for row in standing:
        stock[row.values["vehicle_kind"]][row.values["model"]] = row.values["count"]
    for row in rows:
        values, kind = row.values, by_code[row.values["kind"]]
        capacity = {name: kind[f"max_{name}"] for name in EQUIPMENT_KINDS if kind[f"max_{name}"]}
        capacity["volume_cuft"] = int(values["cargo_cuft"] * kind["usable_share"])
        vehicle, _ = Vehicle.objects.update_or_create(
            code=values["code"],
            defaults={
                "area_id": warehouses[values["warehouse"]].area_id,
                "name": values["name"],
                "kind": kind["name"],
                "home": warehouses[values["warehouse"]],
                "gvwr_lb": max(values["gvwr_lb"], values["gcwr_lb"] or 0),
                "payload_lb": values["payload_lb"],
                "cargo_cuft": values["cargo_cuft"],
                "capacity": capacity,
                "standing_stock": stock[values["kind"]],
                "in_workshop": values["in_workshop"],
            },
        )
        holder_for_vehicle(vehicle.pk)


def write_counted_stock(rows: Sequence[GoodRow], accessories: Sequence[GoodRow], *, now: datetime) -> None:
    """Cords, hoses, poly and filters by place, with the least there should be."""
    named = {row.values["code"]: row.values for row in accessories}
    holders = {("warehouse", place.code): holder_for_warehouse(place.pk) for place in Warehouse.objects.all()}
    holders |= {("vehicle", place.code): holder_for_vehicle(place.pk) for place in Vehicle.objects.all()}
    CountedStock.objects.bulk_create(
        (
            CountedStock(
                place=holders[row.values["holder"], row.values["place"]],
                item=named[row.values["accessory"]]["name"],
                unit_word=named[row.values["accessory"]]["counted_in"],
                quantity=row.values["on_hand"],
                minimum=row.values["minimum"],
                counted_at=now,
            )
            for row in rows
        ),
        update_conflicts=True,
        unique_fields=["place", "item"],
        update_fields=["unit_word", "quantity", "minimum", "counted_at"],
    )
