"""The report as others read it: its keys, its bare numbers, and a row of working for every computed figure."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest

from equipment.sizing.port import run, size_document
from tests.equipment.sizing.losses import chamber, loss, model, room, run_of_wall, wet_room

# Told, not computed.
GIVEN = {"format", "circuit", "length_ft"}


def rich() -> dict[str, Any]:
    """A loss that fills every part of the report."""
    first = chamber(
        wet_room(
            wall_runs=[run_of_wall(), run_of_wall(fire_rated=True)],
            wet_wood_floor_sqft=60,
            materials=[{"material": "drywall", "area_sqft": 96, "covering": "paint"}],
        ),
        room("hall", count=3, length_ft=None, width_ft=None, floor_sqft=200, wet_floor_sqft=123.4),
        air={"dry_bulb_f": 75, "rh_pct": 60},
    )
    second = chamber(wet_room(), name="cellar", dehumidifier="desiccant")
    stock = [
        model("low-grain", "lgr", rated_pints_per_day=130, running_a=7.5, free=4),
        model("mover", "air_mover", running_a=1.9, free=5),
        model("scrubber", "air_scrubber", airflow_cfm=500, free=1),
        model("kit", "cavity_kit", outlets=10, free=1),
        model("mats", "floor_mat_kit", covers_sqft=47.9, free=9, running_a=30),
    ]
    return loss(
        first,
        second,
        category=2,
        mould_sqft=20,
        catalogue=stock,
        circuits=[{"breaker_a": 15, "reserved_a": 2}, {"breaker_a": 20, "reserved_a": 0}],
        also=[{"model": "mover", "count": 2}],
    )


def figures(value: Any, path: str = "") -> Iterator[str]:
    if isinstance(value, dict):
        for key, below in value.items():
            if key not in GIVEN:
                yield from figures(below, f"{path}.{key}" if path else key)
    elif isinstance(value, list):
        for index, below in enumerate(value):
            yield from figures(below, f"{path}[{index}]")
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield path


@pytest.mark.parametrize("category", [1, 2, 3])
def test_every_computed_figure_has_its_working(category: int) -> None:
    report = json.loads(run(json.dumps(rich() | {"category": category})))
    shown = [row["where"] for row in report["working"]]
    assert len(shown) == len(set(shown))
    missing = [path for path in figures({k: v for k, v in report.items() if k != "working"}) if path not in shown]
    assert missing == []
    assert all(row["sum"] and row["source"] for row in report["working"])


def test_working_names_only_figures_that_are_there() -> None:
    report = json.loads(run(json.dumps(rich())))
    there = set(figures({k: v for k, v in report.items() if k != "working"}))
    assert [row["where"] for row in report["working"] if row["where"] not in there] == []


def test_the_keys_are_those_of_the_port() -> None:
    report = json.loads(run(json.dumps(rich())))
    assert list(report) == [
        "format", "rules", "chambers", "air_filtration", "wall_cavities", "wood_floors", "mix", "short", "power",
        "refusals", "cautions", "working",
    ]  # fmt: skip
    assert list(report["chambers"][0]) == [
        "name", "volume_cuft", "surface_sqft", "wet_sqft", "wet_share", "class", "class_from", "air",
        "dehumidification", "air_movers", "rooms", "drying_days",
    ]  # fmt: skip
    assert set(report["mix"][0]) == {"chamber", "model", "kind", "count", "why"}
    assert set(report["short"][0]) == {"chamber", "kind", "unit", "wanted", "found", "why"}
    assert set(report["power"]) == {"total_a", "circuits", "unplaced", "proven"}
    assert set(report["power"]["circuits"][0]) == {"circuit", "limit_a", "used_a", "units"}


def test_same_input_same_bytes() -> None:
    text = json.dumps(rich())
    assert run(text) == run(text.encode()) == run(json.dumps(json.loads(text), indent=3))


def test_numbers_stand_bare_and_exact() -> None:
    text = size_document(loss(chamber(wet_room()))).as_json()
    assert '"pints_per_day": 23.04,' in text
    assert '"volume_cuft": 1152,' in text


def test_python_floats_mean_the_decimals_that_they_print_as() -> None:
    document = loss(chamber(room(length_ft=0.1, width_ft=0.3, wet_floor_sqft=0.01)))
    assert size_document(document).as_json() == run(json.dumps(document))
