"""The working does what it says: each sum, done again from its own text, comes to the figure of the report."""

from __future__ import annotations

import json
import random
import re
from itertools import pairwise
from math import ceil
from typing import Any

import pytest

from equipment.sizing.port import run
from equipment.sizing.wording import plain_beside
from tests.equipment.sizing.losses import chamber, loss, room, run_of_wall
from tests.equipment.sizing.test_report import rich

OF_A_MODEL = re.compile(r"^(.*\b(?:units|unplaced))\.(.+)$")
# Words that explain a number inside a sum; the rest of a sum is arithmetic.
WORDS = re.compile(
    r"for \d+ offsets?|ft of lower wall|ft of wall|sq ft|pints/day.*|cfm of.*|units of.*|outlets of.*|\bA$"
)
SUM = re.compile(r"^[\d.\s+\-x/()]+$")


def figure_at(report: Any, where: str) -> Any:
    of_a_model = OF_A_MODEL.match(where)
    value = report
    for step in re.findall(r"[^.\[\]]+", of_a_model[1] if of_a_model else where):
        value = value[int(step)] if isinstance(value, list) else value[step]
    return value[of_a_model[2]] if of_a_model else value


def worked(text: str) -> float | None:
    """A sum of plain numbers done again, or None for one in words."""
    text = WORDS.sub("", text.rpartition(": ")[2]).strip()
    return float(eval(text.replace("x", "*"))) if text and SUM.match(text) else None


def deviations(report: dict[str, Any]) -> list[str]:
    found = []
    for row in report["working"]:
        where, sum_ = row["where"], row["sum"]
        figure = figure_at(report, where)
        steps, _, up = sum_.partition(" -> ") if "after cleaning" not in sum_ else ("", "", sum_.rpartition(" -> ")[2])
        parts = [worked(part) for part in steps.split(" = ")]
        done = [part for part in parts if part is not None]
        # Wall told as an area becomes a length first, which is no step of the same sum.
        same = [] if " / 2 = " in steps else list(pairwise(done))
        if any(abs(a - b) > 1e-3 * max(1, abs(b)) for a, b in same):
            found.append(f"{where}: {sum_}: the steps differ")
        if up and float(up) != figure:
            found.append(f"{where}: {sum_}: the report says {figure}")
        if up and done and "after cleaning" not in sum_ and ceil(done[-1]) != figure:
            found.append(f"{where}: {sum_}: rounded up it is {ceil(done[-1])}")
        counted = re.search(r"\.(count|units\..*|unplaced\..*)$", where)
        if not up and not counted and len(done) > 1 and abs(done[-1] - figure) > 1e-3 * max(1, abs(figure)):
            found.append(f"{where}: {sum_}: the report says {figure}")
        if counted and float(sum_.split(" x ")[0]) != figure:
            found.append(f"{where}: {sum_}: the report says {figure}")
    return found


def some_loss(seed: int) -> dict[str, Any]:
    """A random loss of one to three chambers."""
    draw = random.Random(seed)

    def some_room(name: str) -> dict[str, Any]:
        length, width = draw.choice([3, 4.5, 10, 12.25, 31]), draw.choice([4, 9.1, 17])
        count, floor = draw.choice([1, 1, 2, 3]), length * width
        if draw.random() < 0.2:
            return room(name, length_ft=length, width_ft=width, lower_wall_only_ft=round(length, 1))
        return room(
            name,
            count=count,
            length_ft=length,
            width_ft=width,
            wet_floor_sqft=min(round(draw.random() * count * floor, draw.choice([0, 1, 3])), count * floor),
            wet_lower_wall_sqft=draw.choice([0, 7.5, 13]),
            wet_upper_wall_sqft=draw.choice([0, 0, 20.2]),
            wet_ceiling_sqft=draw.choice([0, 0, 11]),
            offsets_over_18in=draw.choice([0, 0, 1, 3]),
            wall_runs=[run_of_wall(length_ft=draw.choice([3, 16.7]), fire_rated=draw.random() < 0.3)],
            wet_wood_floor_sqft=draw.choice([0, 0, 12]),
        )

    chambers = [
        chamber(
            *(some_room(f"room {n}") for n in range(draw.randint(1, 4))),
            name=f"chamber {number}",
            dehumidifier=draw.choice(["lgr", "conventional", "desiccant"]),
            air=draw.choice([None, {"dry_bulb_f": 72.5, "rh_pct": 55}]),
            **{"class": draw.choice([1, 2, 3])},
        )
        for number in range(draw.randint(1, 3))
    ]
    return loss(
        *chambers,
        category=draw.choice([1, 2, 3]),
        mould_sqft=draw.choice([0, 12]),
        rules=draw.choice([None, None, "linear-feet"]),
        circuits=[{"breaker_a": 15, "reserved_a": 1.5}] * draw.choice([0, 1, 4]),
    )


@pytest.mark.parametrize("seed", range(60))
def test_every_sum_comes_to_its_figure(seed: int) -> None:
    assert deviations(json.loads(run(json.dumps(some_loss(seed))))) == []


@pytest.mark.parametrize("category", [1, 2, 3])
def test_every_sum_of_a_loss_with_everything(category: int) -> None:
    assert deviations(json.loads(run(json.dumps(rich() | {"category": category})))) == []


def test_a_wrong_sum_would_be_seen() -> None:
    report = json.loads(run(json.dumps(rich())))
    for row in report["working"]:
        row["sum"] = row["sum"].replace("2752 / 50 = 55.04", "2752 / 40 = 55.04")

    assert len(deviations(report)) == 1


@pytest.mark.parametrize(
    ("number", "beside", "shown"), [(3.00002, 3, "3.00002"), (3.5, 4, "3.5"), (3, 3, "3"), (39.999999, 40, "39.999999")]
)
def test_a_number_is_told_from_the_edge_it_nearly_reaches(number: float, beside: int, shown: str) -> None:
    assert plain_beside(number, beside) == shown


def test_a_hair_over_three_shows_why_it_is_four() -> None:
    report = json.loads(run(json.dumps(loss(chamber(room(wet_floor_sqft=120.001))))))

    sums = {row["where"]: row["sum"] for row in report["working"]}
    assert sums["chambers[0].rooms[0].air_movers.planned"] == "1 + 120.001 / 60 = 3.00002 -> 4"
