"""Losses that are wrong: by hand, one fault each with the path that must be named, and at random with a seed."""

from __future__ import annotations

import copy
import json
import random
from collections.abc import Callable, Iterator
from typing import Any

from tests.equipment.sizing.losses import chamber, loss, model, room, run_of_wall, wet_room

ROOM = "chambers[0].rooms[0]"
BROKEN_TEXTS = [
    b"", b" ", b"null", b"[]", b"1", b'"loss"', b"true", b"{", b"}", b"{]", b'{"format": 1,}', b"{'format': 1}",
    b'{"format": 1} {"format": 1}', b"\xff\xfe{}", b'{"format": "\xc3"}', b"NaN", b"[NaN]", b"Infinity", b"-",
    b'{"format": NaN}', b'{"format": 1, "format": 1}', b"[" * 100_000, b'{"a":' * 100_000, b'{"format": 01}',
    b'{"format": 1e}', b'\x00', b'{"format": 1, "rules": "\\ud800"}', b"\xef\xbb\xbf", b"# comment\n{}", b"{}",
    b'{"chambers": [{"rooms": [{"name": "a", "name": "a"}]}]}', b'{"format": ' + b"9" * 5000 + b"}",
]  # fmt: skip


def whole() -> dict[str, Any]:
    """A good loss with an entry in every list."""
    one = wet_room(materials=[{"material": "drywall", "area_sqft": 96, "covering": "paint"}], wall_runs=[run_of_wall()])
    stock = [
        model("low-grain", "lgr", rated_pints_per_day=130, running_a=7.5),
        model("mover", "air_mover"),
        model("scrubber", "air_scrubber", airflow_cfm=500),
    ]
    return loss(
        chamber(one, room("hall"), air={"dry_bulb_f": 75, "rh_pct": 60}),
        chamber(room("cellar", length_ft=None, width_ft=None, floor_sqft=100), name="below"),
        catalogue=stock,
        also=[{"model": "mover", "count": 1}],
        circuits=[{"breaker_a": 15, "reserved_a": 0}],
    )


def _steps(path: str) -> list[int | str]:
    return [int(part) if part.isdigit() else part for part in path.replace("[", ".").replace("]", "").split(".")]


def changed(path: str, value: Any, document: dict[str, Any] | None = None) -> dict[str, Any]:
    """A copy with one value replaced."""
    found = copy.deepcopy(document or whole())
    *above, last = _steps(path)
    place: Any = found
    for step in above:
        place = place[step]
    place[last] = value
    return found


def without(path: str) -> dict[str, Any]:
    found = whole()
    *above, last = _steps(path)
    place: Any = found
    for step in above:
        place = place[step]
    del place[last]
    return found


OBJECTS = {
    "": "", "chambers[0]": "", "chambers[0].air": "", ROOM: "", f"{ROOM}.materials[0]": "", f"{ROOM}.wall_runs[0]": "",
    "catalogue[0]": "", "also[0]": "", "circuits[0]": "",
}  # fmt: skip
WRONG = {
    "format": [0, 2, -1, 1.0, True, "1", None, [], {}],
    "rules": [0, "", "  ", "no such rules", ["simple-method"], True],
    "category": [0, 4, -1, 1.5, "1", True, []],
    "loss_source": ["", "pipe", 1, "Sewage", []],
    "emergency": [None, 0, 1, "true", []],
    "hours_wet": [-1, "2", True, [], 1e30],
    "year_built": [-1, 0, 1996.5, "1996", 99999, True],
    "dwelling_units": [-1, 1.5, "1", True],
    "mould_sqft": [-0.1, None, "0", True, 1e30],
    "elevation_ft": [None, "0", 1e9, -1e9, True],
    "generator_distance_ft": [-1, "20", True, 1e30],
    "circuits": [None, {}, "15", [1], [None]],
    "catalogue": [{}, "x", 0, [1], [None]],
    "also": [None, {}, [1]],
    "chambers": [None, {}, "x", [1], [None], [[]]],
    "circuits[0].breaker_a": [0, -15, None, "15", True],
    "circuits[0].reserved_a": [-1, 16, None, "0"],
    "catalogue[0].model": ["", " ", None, 1, "mover", "x" * 201, "a\nb", "\x00"],
    "catalogue[0].kind": ["", "LGR", "fan", None, 1],
    "catalogue[0].rated_pints_per_day": [0, -1, None, "130", True],
    "catalogue[0].running_a": [-1, None, "7"],
    "catalogue[0].free": [-1, 1.5, None, "4", True],
    "catalogue[2].airflow_cfm": [None, 0, -500],
    "also[0].model": ["", None, "unknown machine"],
    "also[0].count": [-1, 1.5, None, "1", True],
    "chambers[0].name": ["", " ", None, 1, "below", "\u0007"],
    "chambers[0].class": [0, 5, -1, 1.5, "1", True],
    "chambers[0].dehumidifier": ["", "fan", None, "LGR", 1],
    "chambers[0].bound_water": [None, 0, "false"],
    "chambers[0].crawl_space": [None, 1, "no"],
    "chambers[0].air": [1, [], "75/60", True],
    "chambers[0].air.dry_bulb_f": [32.9, 120.1, None, "75", -40],
    "chambers[0].air.rh_pct": [0, 0.9, 100.1, None, "60", -1],
    "chambers[0].rooms": [None, {}, "x"],
    f"{ROOM}.name": ["", " ", None, "hall", 7],
    f"{ROOM}.count": [0, -1, 1.5, None, "1", True],
    f"{ROOM}.length_ft": [-1, 1000.1, "12", True, None],
    f"{ROOM}.width_ft": [-1, 1001, "12", None],
    f"{ROOM}.height_ft": [-1, 100.1, None, "8", True],
    f"{ROOM}.wet_floor_sqft": [-1, 144.1, None, "1"],
    f"{ROOM}.wet_lower_wall_sqft": [-1, 96.1, None],
    f"{ROOM}.wet_upper_wall_sqft": [-1, 288.1, None],
    f"{ROOM}.wet_ceiling_sqft": [-1, 144.1, None],
    f"{ROOM}.lower_wall_only_ft": [-1, 48.1, None, "3"],
    f"{ROOM}.painted_sqft_disturbed": [-1, None, "6"],
    f"{ROOM}.offsets_over_18in": [-1, 0.5, None, True],
    f"{ROOM}.materials": [None, {}, "drywall"],
    f"{ROOM}.materials[0].material": ["", "paper", None, 1],
    f"{ROOM}.materials[0].area_sqft": [-1, None, "9"],
    f"{ROOM}.materials[0].covering": ["", "wood", None, 1],
    f"{ROOM}.wall_runs": [None, {}],
    f"{ROOM}.wall_runs[0].length_ft": [-1, None, 1e9],
    f"{ROOM}.wall_runs[0].stud_spacing_in": [0, -16, None],
    f"{ROOM}.wall_runs[0].insulation_wet": [None, 0, "no"],
    f"{ROOM}.wet_wood_floor_sqft": [-1, 144.1, None],
}


def by_hand() -> Iterator[tuple[str, dict[str, Any]]]:
    """Pairs of the path that must be named and a loss with one fault there."""
    for path, values in WRONG.items():
        for value in values:
            yield path, changed(path, value)
    for path in OBJECTS:
        extra = f"{path}.surprise" if path else "surprise"
        yield extra, changed(extra, 1)
        keys = list(_at(whole(), path))
        for key in (keys[0], keys[-1]):
            gone = f"{path}.{key}" if path else key
            yield gone, without(gone)
    yield f"{ROOM}.length_ft", changed(f"{ROOM}.floor_sqft", 144)
    only = changed(f"{ROOM}.lower_wall_only_ft", 20)
    yield f"{ROOM}.wet_floor_sqft", only
    dry = changed(f"{ROOM}.wet_floor_sqft", 40, only)
    yield f"{ROOM}.wet_ceiling_sqft", changed(f"{ROOM}.wet_ceiling_sqft", 1, dry)
    yield f"{ROOM}.wet_upper_wall_sqft", changed(f"{ROOM}.wet_upper_wall_sqft", 1, dry)
    yield "chambers[0].class", changed("rules", "linear-feet")


def _at(document: Any, path: str) -> Any:
    for step in _steps(path) if path else []:
        document = document[step]
    return document


ODD: list[Callable[[random.Random], Any]] = [
    lambda dice: None,
    lambda dice: dice.choice([True, False]),
    lambda dice: dice.choice([-1, 0, 1, 2, 3, 4, 5, 12, 1000, 10**30, -(10**400)]),
    lambda dice: dice.choice([-0.5, 0.1, 1e308, 1e-308, float("nan"), float("inf"), 144.0000001]),
    lambda dice: dice.uniform(-10, 1100),
    lambda dice: dice.choice(["", " ", "lgr", "kitchen", "\u0000", "\ud800", "12", "none", "x" * 300]),
    lambda dice: dice.choice([[], {}, [[]], [{}], [None]]),
]


def at_random(count: int, seed: int) -> Iterator[bytes]:
    """Losses with one to four values replaced, removed, doubled or added; or their text damaged."""
    dice = random.Random(seed)
    for _ in range(count):
        document = whole()
        for _ in range(dice.randint(1, 4)):
            _damage(document, dice)
        text = json.dumps(document).encode()
        if dice.random() < 0.1:
            cut = dice.randrange(len(text))
            text = text[:cut] + bytes([dice.randrange(256)]) + text[cut + dice.randint(0, 3) :]
        yield text


def _damage(document: dict[str, Any], dice: random.Random) -> None:
    places: list[tuple[Any, Any]] = []
    waiting: list[Any] = [document]
    while waiting:
        value = waiting.pop()
        keys = list(value) if isinstance(value, dict) else range(len(value))
        for key in keys:
            places.append((value, key))
            if isinstance(value[key], dict | list):
                waiting.append(value[key])
    if not places:
        document["format"] = dice.choice(ODD)(dice)
        return
    place, key = dice.choice(places)
    what = dice.random()
    if what < 0.75:
        place[key] = dice.choice(ODD)(dice)
    elif what < 0.85:
        del place[key]
    elif isinstance(place, list):
        place.append(copy.deepcopy(place[key]))
    else:
        place[dice.choice(["surprise", "", "Format", "\ud800"])] = place[key]
