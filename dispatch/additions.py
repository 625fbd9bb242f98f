"""What is added to a day's problem besides its crews and visits: stores, a detour to one, the call being offered."""

from collections.abc import Mapping, Sequence
from datetime import datetime

from dispatch.rules import figure
from dispatch.snapshot import Snapshot, crew_key, fetch_visit
from equipment.models import Warehouse


def add_stock(shot: Snapshot, *, warehouse: Warehouse, have: Mapping[str, int]) -> None:
    """Name a warehouse where missing equipment can be fetched."""
    place = _place(shot, warehouse.code, warehouse.lat, warehouse.lon)
    shot.problem["stock"].append({"place": place, "have": dict(have), "load_s": warehouse.load_s})


def add_detour(shot: Snapshot, *, crew_id: int, visit_id: int, warehouse: Warehouse) -> str:
    """Add the stop at a warehouse that goes right before a visit; its name in the problem."""
    key = f"f{visit_id}"
    place = _place(shot, warehouse.code, warehouse.lat, warehouse.lon)
    shot.problem["visits"].append(fetch_visit(key, crew=crew_key(crew_id), place=place, load_s=warehouse.load_s))
    return key


def add_wanted(
    shot: Snapshot,
    *,
    name: str,
    lat: float,
    lon: float,
    service_s: int,
    skills: Sequence[str],
    state: str,
    deliver: Mapping[str, int],
    due_at: datetime | None,
) -> None:
    """Add a visit that has no row yet: the call being offered."""
    visit = fetch_visit(name, crew="", place=_place(shot, name, lat, lon), load_s=service_s)
    late = {} if due_at is None else {"due": round((due_at - shot.zero).total_seconds())}
    shot.problem["visits"].append(
        {
            **visit,
            **late,
            "only": None,
            "skills": list(skills),
            "state": state,
            "deliver": dict(deliver),
            "per_late_second": figure("per_late_second") if late else 0,
        }
    )


def _place(shot: Snapshot, name: str, lat: float, lon: float) -> str:
    if all(place["id"] != name for place in shot.problem["places"]):
        shot.problem["places"].append({"id": name, "lat": lat, "lon": lon})
    return name
