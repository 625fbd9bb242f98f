"""
How long the desk's estimate takes, and all that a saved keystroke draws anew, for a call with six rooms.

    python -m tests.bench.bench_call_estimate

Milliseconds: the median and the slowest of 40, each with other measures so that nothing is remembered.
"""

from __future__ import annotations

import os
import statistics
import time
from datetime import UTC, datetime
from typing import Any

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
django.setup()

from django.template.loader import render_to_string  # noqa: E402

from dispatch.desk.call_estimate import estimate_of  # noqa: E402
from dispatch.desk.call_pages import PlaceLine, Side  # noqa: E402
from jobs.facts import AreaLine, CallFacts  # noqa: E402
from jobs.places import Found  # noqa: E402

RUNS = 40
NOW = datetime(2026, 1, 16, 6, 47, tzinfo=UTC)


def call_with(rooms: int, turn: int) -> CallFacts:
    """A call of clean water; measures differ by turn."""
    told: list[dict[str, Any]] = [
        {
            "id": f"r{n}",
            "name": f"room {n}",
            "length_ft": 10 + n,
            "width_ft": 12 + turn % 7,
            "wet_floor_sqft": 60 + turn,
            "wet_lower_wall_sqft": 30 + n,
            "wall_cavity_ft": 10 + n,
            "wet_wood_floor_sqft": 20 if n % 2 else 0,
        }
        for n in range(rooms)
    ]
    area = AreaLine(1, "lower-columbia", "Lower Columbia", "America/Los_Angeles", "")
    answers = {"water_source": "supply_line", "running": "stopped", "year_built": 1992, "circuits": [
        {"breaker_a": 15, "reserved_a": 0}, {"breaker_a": 20, "reserved_a": 0}, {"breaker_a": 20, "reserved_a": 6},
    ]}  # fmt: skip
    return CallFacts(
        1, area, NOW, "", "", answers, {}, tuple(told), Found(), (), None, None, "", "", None, ""
    )  # fmt: skip


def main() -> None:
    for rooms in (1, 6, 20):
        sized, drawn = [], []
        for turn in range(RUNS + 1):
            facts = call_with(rooms, turn)
            began = time.perf_counter()
            estimate = estimate_of(facts)
            sized.append(time.perf_counter() - began)
            side = Side(PlaceLine("", "", "", "", "", "", "", (), ""), None, (), (), (), estimate)
            render_to_string("dispatch/desk/_call_side.html", {"side": side, "facts": facts})
            drawn.append(time.perf_counter() - began)
        # The first run loads the rules and the solver; a desk pays that once.
        first, *sized_ms = [1000 * seconds for seconds in sized]
        drawn_ms = [1000 * seconds for seconds in drawn[1:]]
        print(
            f"{rooms:2} rooms: estimate {statistics.median(sized_ms):6.1f} ms (slowest {max(sized_ms):6.1f}), "
            f"drawn {statistics.median(drawn_ms):6.1f} ms (slowest {max(drawn_ms):6.1f}); first {first:.0f} ms"
        )


if __name__ == "__main__":
    main()
