"""Small losses as documents; each test changes what it is about."""

from __future__ import annotations

from typing import Any


def room(name: str = "kitchen", **changes: Any) -> dict[str, Any]:
    """A dry room of 12 x 12 x 8 ft."""
    return {
        "name": name,
        "count": 1,
        "length_ft": 12,
        "width_ft": 12,
        "floor_sqft": None,
        "height_ft": 8,
        "wet_floor_sqft": 0,
        "wet_lower_wall_sqft": 0,
        "wet_upper_wall_sqft": 0,
        "wet_ceiling_sqft": 0,
        "lower_wall_only_ft": 0,
        "painted_sqft_disturbed": 0,
        "offsets_over_18in": 0,
        "materials": [],
        "wall_runs": [],
        "wet_wood_floor_sqft": 0,
    } | changes


def wet_room(name: str = "kitchen", **changes: Any) -> dict[str, Any]:
    """The same room with its floor, and its walls 2 ft up, wet."""
    return room(name, wet_floor_sqft=144, wet_lower_wall_sqft=96) | changes


def chamber(*rooms: dict[str, Any], **changes: Any) -> dict[str, Any]:
    return {
        "name": "ground floor",
        "class": None,
        "dehumidifier": "lgr",
        "bound_water": False,
        "crawl_space": False,
        "air": None,
        "rooms": list(rooms),
    } | changes


def loss(*chambers: dict[str, Any], **changes: Any) -> dict[str, Any]:
    return {
        "format": 1,
        "rules": None,
        "category": 1,
        "loss_source": None,
        "emergency": True,
        "hours_wet": None,
        "year_built": 1996,
        "dwelling_units": 1,
        "mould_sqft": 0,
        "elevation_ft": 0,
        "generator_distance_ft": None,
        "circuits": [],
        "catalogue": None,
        "also": [],
        "chambers": list(chambers),
    } | changes


def run_of_wall(**changes: Any) -> dict[str, Any]:
    return {
        "length_ft": 16,
        "stud_spacing_in": 16,
        "insulation_wet": False,
        "vapor_barrier": False,
        "fire_rated": False,
    } | changes


def model(name: str, kind: str, **changes: Any) -> dict[str, Any]:
    return {
        "model": name,
        "kind": kind,
        "rated_pints_per_day": None,
        "process_cfm": None,
        "airflow_cfm": None,
        "outlets": None,
        "covers_sqft": None,
        "running_a": 2,
        "free": 100,
    } | changes


def codes(notices: list[dict[str, Any]]) -> set[str]:
    return {notice["code"] for notice in notices}
