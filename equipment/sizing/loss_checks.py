"""What no single value shows: that a loss agrees with itself. The first contradiction is named and refused."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches
from fractions import Fraction
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from equipment.sizing.geometry import room_size
from equipment.sizing.loss import Air, Also, CatalogueEntry, Chamber, Circuit, Loss, Room, RoomMaterial, WallRun
from equipment.sizing.refused import LossRefused, path_of
from equipment.sizing.wording import plain

# A float computed on the caller's side may lie a hair beyond the exact product; a wet wall may not.
SLACK = Fraction(1, 10**9)
CAPACITY_OF_KIND = {
    "conventional": "rated_pints_per_day",
    "lgr": "rated_pints_per_day",
    "desiccant": "process_cfm",
    "air_scrubber": "airflow_cfm",
    "cavity_kit": "outlets",
    "floor_mat_kit": "covers_sqft",
}
# Codes that the readers of single values raise themselves.
OWN_CODES = {"wrong_type", "not_a_number", "out_of_range", "blank", "text"}
KNOWN_KEYS = sorted(
    {
        field.alias or name
        for part in (Loss, Chamber, Room, WallRun, RoomMaterial, Air, Also, CatalogueEntry, Circuit)
        for name, field in part.model_fields.items()
    }
)


def read_loss(document: Any) -> Loss:
    """
    A document (parsed JSON, or plain Python values) as a loss.

    :raises LossRefused: naming the first value that is missing, unknown, of a wrong type or impossible.
    """
    if not isinstance(document, dict):
        raise LossRefused("wrong_type", "document", "A loss is one JSON object, written { … }.")
    try:
        loss = Loss.model_validate(document)
    except ValidationError as error:
        raise _refusal(error.errors(include_url=False, include_context=True)[0]) from None
    _check(loss)
    return loss


def _refusal(error: ErrorDetails) -> LossRefused:
    where = path_of(error["loc"]) or "document"
    kind = error["type"]
    if kind == "missing":
        return LossRefused("missing_key", where, "This key is missing. Give it; where nothing is known, null may do.")
    if kind == "extra_forbidden":
        near = get_close_matches(str(error["loc"][-1]), KNOWN_KEYS, n=1)
        hint = f" Was {near[0]!r} meant?" if near else ""
        return LossRefused("unknown_key", where, f"This key means nothing here. Leave it out.{hint}")
    if kind == "literal_error":
        words = error.get("ctx", {}).get("expected", "")
        code = "unknown_word" if isinstance(error["input"], str) else "wrong_type"
        if isinstance(error["input"], int) and not isinstance(error["input"], bool):
            code = "out_of_range"
        return LossRefused(code, where, f"This value is not one of the choices. Give one of {words}.")
    if kind == "bool_type":
        return LossRefused("wrong_type", where, "This must be true or false, without quotes.")
    if kind in {"model_type", "dict_type", "model_attributes_type"}:
        return LossRefused("wrong_type", where, "This must be an object, written { … } with its keys.")
    code = kind if kind in OWN_CODES else "wrong_type"
    return LossRefused(code, where, error["msg"])


def _check(loss: Loss) -> None:
    for index, circuit in enumerate(loss.circuits):
        if circuit.reserved_a > circuit.breaker_a:
            raise LossRefused(
                "impossible",
                f"circuits[{index}].reserved_a",
                f"{plain(circuit.reserved_a)} A cannot be reserved on a {plain(circuit.breaker_a)} A breaker. "
                f"Give at most {plain(circuit.breaker_a)}.",
            )
    _check_catalogue(loss)
    _unique((chamber.name for chamber in loss.chambers), "chambers[{}].name", "chamber")
    for index, chamber in enumerate(loss.chambers):
        where = f"chambers[{index}]"
        _unique((room.name for room in chamber.rooms), where + ".rooms[{}].name", "room of this chamber")
        for number, room in enumerate(chamber.rooms):
            _check_room(room, f"{where}.rooms[{number}]")


def _check_catalogue(loss: Loss) -> None:
    if loss.catalogue is None:
        return
    _unique((entry.model for entry in loss.catalogue), "catalogue[{}].model", "model")
    for index, entry in enumerate(loss.catalogue):
        capacity = CAPACITY_OF_KIND.get(entry.kind)
        if capacity and getattr(entry, capacity) is None:
            raise LossRefused(
                "impossible",
                f"catalogue[{index}].{capacity}",
                f"A model of kind {entry.kind} is chosen by its {capacity}, which is null. Give the data plate's.",
            )


def _unique(names: Iterable[str], where: str, what: str) -> None:
    seen: set[str] = set()
    for index, name in enumerate(names):
        if name.strip() in seen:
            raise LossRefused(
                "not_unique", where.format(index), f"Another {what} has the name {name!r} too. Give each its own name."
            )
        seen.add(name.strip())


def _check_room(room: Room, where: str) -> None:
    _check_edges(room, where)
    size = room_size(room)
    limits = {
        "wet_floor_sqft": (size.floor_sqft, "the floor"),
        "wet_lower_wall_sqft": (size.lower_wall_sqft, "the walls up to 2 ft"),
        "wet_upper_wall_sqft": (size.upper_wall_sqft, "the walls above 2 ft"),
        "wet_ceiling_sqft": (size.floor_sqft, "the ceiling"),
        "wet_wood_floor_sqft": (size.floor_sqft, "the floor"),
    }
    for key, (most, what) in limits.items():
        if getattr(room, key) > most * (1 + SLACK):
            raise LossRefused(
                "impossible",
                f"{where}.{key}",
                f"{plain(getattr(room, key))} sq ft is more than {what} of this room has. Give at most {plain(most)}.",
            )
    if room.lower_wall_only_ft > size.perimeter_ft * (1 + SLACK):
        raise LossRefused(
            "impossible",
            f"{where}.lower_wall_only_ft",
            f"{plain(room.lower_wall_only_ft)} ft is more wall than this room has. "
            f"Give at most {plain(size.perimeter_ft)}.",
        )
    if room.lower_wall_only_ft > 0:
        _check_lower_wall_only(room, where)


def _check_edges(room: Room, where: str) -> None:
    if room.floor_sqft is None:
        for key in ("length_ft", "width_ft"):
            if getattr(room, key) is None:
                raise LossRefused(
                    "contradiction",
                    f"{where}.{key}",
                    "This is null, and so is floor_sqft. Give length_ft and width_ft, or floor_sqft alone.",
                )
    else:
        for key in ("length_ft", "width_ft"):
            if getattr(room, key) is not None:
                raise LossRefused(
                    "contradiction",
                    f"{where}.{key}",
                    "floor_sqft is given too. Give length_ft and width_ft, or floor_sqft alone with both edges null.",
                )


def _check_lower_wall_only(room: Room, where: str) -> None:
    most = room.lower_wall_only_ft * 2
    if room.wet_floor_sqft > most * (1 + SLACK):
        raise LossRefused(
            "contradiction",
            f"{where}.wet_floor_sqft",
            f"lower_wall_only_ft says that water stayed within 2 ft of {plain(room.lower_wall_only_ft)} ft of wall: "
            f"at most {plain(most)} sq ft of floor. Give less floor, or 0 for lower_wall_only_ft.",
        )
    for key in ("wet_upper_wall_sqft", "wet_ceiling_sqft"):
        if getattr(room, key) > 0:
            raise LossRefused(
                "contradiction",
                f"{where}.{key}",
                "lower_wall_only_ft says that water stayed low on the walls. Give 0 here, or 0 for lower_wall_only_ft.",
            )


def check_class_given(chambers: Iterable[Chamber], rules: str) -> None:
    """The older rule has no percentages, so the lead names the class."""
    for index, chamber in enumerate(chambers):
        if chamber.class_ is None:
            raise LossRefused(
                "class_required",
                f"chambers[{index}].class",
                f"The rule set {rules} works no class out. Give the class, 1 to 4, that the lead has set.",
            )
