"""
The sizing port's work in one process, without interpreter start: medians in milliseconds.

    python -m tests.bench.bench_sizing [rounds]

A loss of 40 rooms with 12 models and 24 circuits, without and with choosing equipment and placing it; the same at
25, 50 and 150 units to place; and the desk's estimate of six rooms. The first call, which loads the solver, stands
apart.
"""

from __future__ import annotations

import json
import statistics
import sys
import time
from collections.abc import Callable
from typing import Any

from equipment.sizing import mix, power
from equipment.sizing.loss_checks import read_loss
from equipment.sizing.port import run, size
from equipment.sizing.reading import read_document
from equipment.sizing.rule_set import chosen_rules
from tests.equipment.sizing.losses import chamber, loss, model, room

LIMITS_MS = {
    "40 rooms, no mix, no power": 50,
    "25 units": 300,
    "50 units": 1500,
    "150 units": 1500,
    "estimate, six rooms": 100,
}


def stock() -> list[dict[str, Any]]:
    """Twelve models of all kinds that a loss asks for."""
    return [
        model("low-grain 70", "lgr", rated_pints_per_day=70, running_a=5.5, free=40),
        model("low-grain 130", "lgr", rated_pints_per_day=130, running_a=7.5, free=40),
        model("low-grain 170", "lgr", rated_pints_per_day=170, running_a=10.2, free=40),
        model("conventional 60", "conventional", rated_pints_per_day=60, running_a=6, free=20),
        model("desiccant 200", "desiccant", process_cfm=200, running_a=12, free=6),
        model("axial", "air_mover", running_a=1.5, free=60),
        model("low-profile", "air_mover", running_a=1.9, free=60),
        model("centrifugal", "air_mover", running_a=3.9, free=200),
        model("scrubber 500", "air_scrubber", airflow_cfm=500, running_a=2.8, free=20),
        model("scrubber 1000", "air_scrubber", airflow_cfm=1000, running_a=6.1, free=10),
        model("cavity kit", "cavity_kit", outlets=24, running_a=7.3, free=12),
        model("mat kit", "floor_mat_kit", covers_sqft=47.9, running_a=8.4, free=12),
    ]


def building(rooms: int, wet_sqft: int, also: dict[str, int], circuits: int = 24) -> dict[str, Any]:
    """Rooms of 12 x 12 ft in four chambers, and units that the lead adds."""
    size_of = -(-rooms // 4)
    chambers = [
        chamber(
            *(
                room(f"room {n}", wet_floor_sqft=wet_sqft, materials=[
                    {"material": "drywall", "area_sqft": 96, "covering": "paint"}])
                for n in range(first, min(rooms, first + size_of))
            ),
            name=f"floor {first}",
            air={"dry_bulb_f": 75, "rh_pct": 60},
        )
        for first in range(0, rooms, size_of)
    ]  # fmt: skip
    return loss(
        *chambers,
        catalogue=stock(),
        circuits=[{"breaker_a": 20 if n % 3 else 15, "reserved_a": (n % 4) * 0.5} for n in range(circuits)],
        also=[{"model": name, "count": count} for name, count in also.items()],
    )


def median_ms(work: Callable[[], object], rounds: int) -> float:
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        times.append((time.perf_counter() - start) * 1000)
    return statistics.median(times)


def main(rounds: int) -> None:
    start = time.perf_counter()
    mix.warm()
    power.warm()
    print(f"loading the solver: {time.perf_counter() - start:.2f} s")
    forty = json.dumps(building(40, 40, {}))
    mixed = {"low-grain 130": 3, "centrifugal": 6, "scrubber 1000": 2, "cavity kit": 2, "mat kit": 2}
    cases: dict[str, Callable[[], object]] = {
        "40 rooms, no mix, no power": lambda: size(
            read_loss(read_document(forty)), chosen_rules(None), with_mix=False, with_power=False
        ).as_json(),
    }
    for name, document in {
        "25 units": building(4, 40, mixed, circuits=8),
        "50 units": building(12, 40, {key: 2 * count for key, count in mixed.items()}, circuits=14),
        "150 units": building(40, 100, {key: 2 * count for key, count in mixed.items()}),
        "estimate, six rooms": building(6, 60, {}, circuits=6),
    }.items():
        text = json.dumps(document)
        report = json.loads(run(text))
        units = sum(row["count"] for row in report["mix"]) + sum(row["count"] for row in document["also"])
        left = sum(report["power"]["unplaced"].values())
        print(f"{name}: {units} units, {left} without a place, proven {report['power']['proven']}")
        cases[name] = lambda text=text: run(text)  # type: ignore[misc]
    for name, work in cases.items():
        took = median_ms(work, rounds)
        print(f"{name:30} {took:8.1f} ms   limit {LIMITS_MS[name]} {'ok' if took <= LIMITS_MS[name] else 'OVER'}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 9)
