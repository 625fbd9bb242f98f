"""
What one keystroke on the call page costs the server, for a call of six rooms: medians in milliseconds.

    DJANGO_SETTINGS_MODULE=config.settings python -m tests.bench.bench_desk_estimate [rounds]

The sizing, the report in words, and the drawn page beside the questions; the limit is 100 ms for all of it.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import django

LIMIT_MS = 100
ROOMS = ("kitchen", "hall", "den", "bath", "bedroom", "closet")


@dataclass(frozen=True)
class Call:
    """What has been told so far."""

    answers: dict[str, Any]
    rooms: tuple[dict[str, Any], ...]


def six_rooms() -> Call:
    """Six rooms in two chambers, with walls, a wood floor and four circuits."""
    circuits = [{"breaker_a": 15 + 5 * (n % 2), "reserved_a": 2} for n in range(4)]
    rooms = tuple(
        {
            "id": name, "name": name, "chamber": "ground floor" if number % 2 else "cellar", "length_ft": 12,
            "width_ft": 14 + number, "wet_floor_sqft": 120, "wet_lower_wall_sqft": 60, "wall_cavity_ft": 12,
            "wet_wood_floor_sqft": 40 if number == 2 else 0, "floor": "carpet",
        }
        for number, name in enumerate(ROOMS)
    )  # fmt: skip
    return Call({"water_source": "appliance", "circuits": circuits, "year_built": 1965}, rooms)


def main(rounds: int) -> None:
    django.setup()

    # Only after the set-up may the desk be imported.
    from django.template.loader import render_to_string

    from dispatch.desk.call_estimate import estimate_of
    from equipment.sizing import mix, power

    mix.warm()
    power.warm()
    facts = six_rooms()
    steps: dict[str, Callable[[], object]] = {
        "estimate": lambda: estimate_of(facts),
        "estimate and page": lambda: render_to_string(
            "dispatch/desk/_call_side.html", {"side": {"estimate": estimate_of(facts)}}
        ),
    }
    found = estimate_of(facts)
    assert not found.not_yet, found.not_yet
    for name, step in steps.items():
        step()
        took = []
        for _ in range(rounds):
            start = time.perf_counter()
            step()
            took.append((time.perf_counter() - start) * 1000)
        middle = statistics.median(took)
        print(f"{name:20} {middle:8.1f} ms   limit {LIMIT_MS} {'ok' if middle <= LIMIT_MS else 'OVER'}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 30)
