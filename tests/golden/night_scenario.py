"""The worked night of this folder's tables as a scenario that `manage.py replay` runs."""

import csv
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

HERE = Path(__file__).parent
EVENING = datetime(2026, 1, 15, tzinfo=ZoneInfo("America/Los_Angeles"))  # midnight before that evening
PLACES = {"north": "@warehouse:north", "south": "@warehouse:south", "van 1": "@vehicle:V1", "van 2": "@vehicle:V2"}
CODES = {"van 1": "V1", "van 2": "V2", "A": "J-1001", "B": "J-1002", "C": "J-1003"}
KINDS = (
    "air_mover",
    "lgr",
    "conventional",
    "desiccant",
    "air_scrubber",
    "cavity_kit",
    "floor_mat_kit",
    "heater",
    "generator",
)


def table(name: str) -> list[dict[str, str]]:
    with (HERE / name).open(newline="", encoding="utf-8") as lines:
        next(lines)  # the source
        return list(csv.DictReader(lines))


def scenario() -> dict[str, Any]:
    return {
        "format": 1,
        "note": "48 movements from 18:00 to 13:00; every count is worked out by hand in night_stock.csv",
        "company": company(),
        "steps": [*_jobs(), _count("opening", EVENING + timedelta(hours=18, minutes=30)), *_moves(), _ledgers()],
    }


def company() -> dict[str, list[dict[str, Any]]]:
    warehouse = {"area": "river", "street": "1 Dock", "lon": -122.6, "load_minutes": 10}
    van = {"kind": "van", "warehouse": "north", "gvwr_lb": 9000, "payload_lb": 3000, "cargo_cuft": 300}
    model = {"weight_lb": 20, "volume_cuft": 2}
    north = {"name": "North warehouse", "town": "Vancouver", "state": "WA", "zip": "98661", "lat": 45.64}
    south = {"name": "South warehouse", "town": "Clackamas", "state": "OR", "zip": "97015", "lat": 45.42}
    person = {"phone": "360-555-0100", "warehouse": "north"}
    return {
        "areas": [{"code": "river", "name": "River", "time_zone": "America/Los_Angeles"}],
        "warehouses": [{"code": "north", **warehouse, **north}, {"code": "south", **warehouse, **south}],
        "vehicle_kinds": [
            {"code": "van", "name": "Van", "usable_share": 0.65, **{f"max_{kind}": 20 for kind in KINDS}}
        ],
        "equipment_models": [
            {"code": "AM", "name": "Air mover", "kind": "air_mover", "running_a": 2, **model},
            {
                "code": "LGR",
                "name": "Low-grain dehumidifier",
                "kind": "lgr",
                "rated_pints_per_day": 130,
                "running_a": 7,
                **model,
            },
        ],
        "vehicles": [{"code": f"V{n}", "name": f"Van {n}", "in_workshop": "no", **van} for n in (1, 2)],
        "units": [*_units()],
        "people": [
            {"user_name": role, "name": f"The {role}", "role": role, **person}
            for role in ("dispatcher", "warehouse", "crew_lead", "manager")
        ],
    }


def _units() -> Iterator[dict[str, Any]]:
    for model, place, numbers in (
        ("AM", "north", range(1, 9)),
        ("AM", "south", range(9, 13)),
        ("AM", "V1", (13, 14)),
        ("LGR", "north", (51, 52, 53)),
        ("LGR", "south", (54,)),
        ("LGR", "V1", (55,)),
        ("LGR", "V2", (56,)),
    ):
        for number in numbers:
            holder = "vehicle" if place.startswith("V") else "warehouse"
            unit = {"number": f"{number:04}", "model": model, "holder": holder, "place": place}
            yield {**unit, "condition": "ready", "rented": "no"}


def _jobs() -> Iterator[dict[str, Any]]:
    """Three calls that are booked, the second with water of category 3."""
    at = (EVENING + timedelta(hours=18)).isoformat()
    for name, category in (("A", 1), ("B", 3), ("C", 1)):
        answers = {
            "callback_number": "360-555-0123",
            "caller_name": "Caller of the night",
            "street": "12 Levee Row",
            "town": "Vancouver",
            "state": "WA",
            "zip_code": "98661",
            "category": category,
        }
        call = {"area_id": "@area:river", "answers": answers}
        yield {"at": at, "who": "dispatcher", "do": "take", "as": f"call_{name}", "with": call}
        booking = {"call_id": f"$call_{name}.call_id", "due_on": "2026-01-15"}
        yield {"at": at, "who": "dispatcher", "do": "book_visit", "as": name, "with": booking}


def _moves() -> Iterator[dict[str, Any]]:
    for row in table("night_moves.csv"):
        hours, minutes = row["at"].split(":")
        at = EVENING + timedelta(hours=int(hours), minutes=int(minutes))
        if row["do"] == "count":
            yield _count(row["to"], at)
        else:
            verb, who, more = _move(row)
            told = {"numbers": [row["unit"]], **more}
            yield {"at": at.isoformat(), "who": who, "do": verb, "with": told}


def _move(row: dict[str, str]) -> tuple[str, str, dict[str, Any]]:
    jobs = {name: f"${name}.job_id" for name in "ABC"}
    ids = PLACES | jobs
    origin, to, more = ids.get(row["from"]), ids.get(row["to"]), row["more"]
    keeper, lead = "warehouse", "crew_lead"
    match row["do"]:
        case "load":
            job = {"job_id": jobs[more]} if more else {}
            return "scan_out", keeper, {"vehicle_id": to, "warehouse_id": origin, **job}
        case "place":
            return "place_units", lead, {"job_id": to, "room_name": "hall", "vehicle_id": origin}
        case "take_up":
            return "take_up_units", lead, {"job_id": origin, "vehicle_id": to}
        case "to_job":
            return "move", lead, {"to_job_id": to, "room_name": "den"}
        case "bring_in":
            return "scan_in", keeper, {"warehouse_id": to}
        case "send":
            return "send_transfer", keeper, {"from_warehouse_id": origin, "to_warehouse_id": to}
        case "receive":
            return "receive_transfer", keeper, {"warehouse_id": to}
        case "ready":
            return "set_condition", keeper, {"condition": "ready", "steps": more.split()}
        case "break":
            return "set_condition", keeper, {"condition": "broken"}
    raise ValueError(row)


def _count(when: str, at: datetime) -> dict[str, Any]:
    """Every place and model at once: what the tables do not name must not be there either."""
    stock: dict[str, dict[str, dict[str, int]]] = {}
    for row in table("night_stock.csv"):
        if row["when"] == when:
            counts = {how: int(row[how]) for how in ("ready", "in_use", "not_ready")}
            stock.setdefault(CODES.get(row["place"], row["place"]), {})[row["model"]] = counts
    told = {"page": "stock", "area_id": "@area:river"}
    sums = "14 air movers and 6 dehumidifiers in all"
    return {"at": at.isoformat(), "who": "warehouse", "do": "look", "with": told, "expect": {"": stock}, "note": sums}


def _ledgers() -> dict[str, Any]:
    at = EVENING + timedelta(hours=37)
    told = {"page": "ledgers"}
    return {"at": at.isoformat(), "who": "manager", "do": "look", "with": told, "expect": {"#": 0}}
