"""A call's or a job's wet rooms as the LOSS that sizing reads (ports.md section 1)."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any, Protocol

from jobs.models import Chamber, Job

# What a phone call says of a room when the caller does not know (trade practice).
HEIGHT_FT = 8
STUD_SPACING_IN = 16
ONE_CHAMBER = "whole loss"

_MEASURES = (
    "wet_lower_wall_sqft",
    "wet_upper_wall_sqft",
    "wet_ceiling_sqft",
    "lower_wall_only_ft",
    "wet_wood_floor_sqft",
)
_PORT_KEYS = (
    "count",
    "length_ft",
    "width_ft",
    "floor_sqft",
    "height_ft",
    "wet_floor_sqft",
    *_MEASURES,
    "painted_sqft_disturbed",
    "offsets_over_18in",
    "materials",
    "wall_runs",
)


class Told(Protocol):
    """A call, as a row or as its facts."""

    @property
    def answers(self) -> dict[str, Any]: ...

    @property
    def rooms(self) -> Sequence[dict[str, Any]]: ...


def of_call(call: Told) -> dict[str, Any] | None:
    """The loss as far as it is told; None while no room has a size."""
    chambers = chambers_of(call)
    if not chambers:
        return None
    answers = call.answers
    return _loss(
        answers,
        hours_wet=answers.get("hours_wet"),
        chambers=[_chamber(name, rooms) for name, rooms in chambers.items()],
    )


def chambers_of(call: Told) -> dict[str, list[dict[str, Any]]]:
    """The told rooms by chamber, in the port's keys; a second bedroom is called `bedroom 2`."""
    chambers: dict[str, list[dict[str, Any]]] = {}
    for index, told in enumerate(call.rooms):
        room = room_of_cells(told, index)
        if room is None:
            continue
        rooms = chambers.setdefault(told.get("chamber") or ONE_CHAMBER, [])
        names, same = {other["name"] for other in rooms}, 1
        while room["name"] in names:
            same += 1
            room["name"] = f"{told.get('name') or 'room'} {same}"
        rooms.append(room)
    return chambers


def of_job(job: Job, *, now: datetime) -> dict[str, Any]:
    """The job's loss, with the lead's category and class where they are set. Reads chambers and rooms (2 queries)."""
    facts = {
        "category": job.category,
        "water_source": job.water_source or None,
        "year_built": job.year_built,
        "dwelling_units": job.dwelling_units,
        "hazards": job.hazards,
        "circuits": job.circuits,
    }
    hours = round((now - job.began_at).total_seconds() / 3600, 1) if job.began_at else None
    chambers = [
        _chamber(
            chamber.name,
            [{**_blank(room.name), **{k: v for k, v in room.measures.items() if k in _PORT_KEYS}} for room in rooms],
            chamber,
        )
        for chamber in job.chambers.prefetch_related("rooms").order_by("pk")
        if (rooms := list(chamber.rooms.all()))
    ]
    return _loss(facts, hours_wet=None if hours is None or hours < 0 else hours, chambers=chambers) | {
        "elevation_ft": job.elevation_ft
    }


def room_of_cells(told: Mapping[str, Any], index: int) -> dict[str, Any] | None:
    """One room in the port's keys, from the cells of a call; None without a size or when it was taken off the list."""
    wet = told.get("wet_floor_sqft", 0)
    sized = told.get("length_ft") and told.get("width_ft")
    if told.get("removed") or not (sized or wet):
        return None
    room = _blank(told.get("name") or f"room {index + 1}") | {
        "count": told.get("count", 1),
        "height_ft": told.get("height_ft", HEIGHT_FT),
        "wet_floor_sqft": wet,
        **{measure: told.get(measure, 0) for measure in _MEASURES},
    }
    if sized:
        room |= {"length_ft": told["length_ft"], "width_ft": told["width_ft"]}
    else:
        # Only what is wet is known: the room is taken to be as large as that.
        room["floor_sqft"] = wet
    if told.get("wall_cavity_ft"):
        room["wall_runs"] = [
            {
                "length_ft": told["wall_cavity_ft"],
                "stud_spacing_in": STUD_SPACING_IN,
                "insulation_wet": bool(told.get("insulation_wet")),
                "vapor_barrier": False,
                "fire_rated": False,
            }
        ]
    room["materials"] = list(_materials(told, room))
    return room


def _materials(told: Mapping[str, Any], room: Mapping[str, Any]) -> Iterable[dict[str, Any]]:
    floor = told.get("floor") or ("hardwood_floor" if room["wet_wood_floor_sqft"] else None)
    if floor and room["wet_floor_sqft"]:
        yield {"material": floor, "area_sqft": room["wet_floor_sqft"], "covering": "none"}
    walls = room["wet_lower_wall_sqft"] + room["wet_upper_wall_sqft"] + room["wet_ceiling_sqft"]
    if walls:
        yield {"material": "drywall", "area_sqft": walls, "covering": "paint"}


def _blank(name: str) -> dict[str, Any]:
    return {
        "name": name,
        "count": 1,
        "length_ft": None,
        "width_ft": None,
        "floor_sqft": None,
        "height_ft": HEIGHT_FT,
        "wet_floor_sqft": 0,
        **dict.fromkeys(_MEASURES, 0),
        "painted_sqft_disturbed": 0,
        "offsets_over_18in": 0,
        "materials": [],
        "wall_runs": [],
    }


def _chamber(name: str, rooms: list[dict[str, Any]], chamber: Chamber | None = None) -> dict[str, Any]:
    return {
        "name": name,
        "class": chamber.class_set if chamber else None,
        "dehumidifier": chamber.dehumidifier if chamber else "lgr",
        "bound_water": chamber.bound_water if chamber else False,
        "crawl_space": chamber.crawl_space if chamber else False,
        "air": None,
        "rooms": rooms,
    }


def _loss(facts: Mapping[str, Any], *, hours_wet: float | None, chambers: list[dict[str, Any]]) -> dict[str, Any]:
    return {
        "format": 1,
        "rules": None,
        "category": facts.get("category"),
        "loss_source": facts.get("water_source"),
        "emergency": True,
        "hours_wet": hours_wet,
        "year_built": facts.get("year_built"),
        "dwelling_units": facts.get("dwelling_units"),
        # The area is not asked on the phone, and any area at all asks for filtration.
        "mould_sqft": 1 if "mold" in (facts.get("hazards") or []) else 0,
        "elevation_ft": 0,
        # Where a generator stands is not asked; its hazard is read aloud instead.
        "generator_distance_ft": None,
        "circuits": facts.get("circuits") or [],
        "catalogue": None,
        "also": [],
        "chambers": chambers,
    }
