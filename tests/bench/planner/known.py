"""
The best plans known for the generated days, of whatever engine: ``best_known.json`` beside this file.

One line for each day: cost, engine, its seed and seconds, the visits of every crew by number, and a fingerprint of
these. A plan read from the file is timed, priced and judged again, so that a changed generator or cost shows at once.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from hashlib import sha256
from pathlib import Path

from dispatch.planner.frame import frame_of
from dispatch.planner.problem import Problem
from tests.bench.planner.marks import Look, Orders, scored

STORE = Path(__file__).with_name("best_known.json")


@dataclass(frozen=True)
class Known:
    cost: int
    engine: str
    seed: int
    seconds: float
    plan: str
    orders: Orders


def fingerprint(orders: Orders) -> str:
    return sha256(json.dumps(orders, separators=(",", ":")).encode()).hexdigest()[:16]


def load(store: Path = STORE) -> dict[str, Known]:
    """By ``visits/seed``."""
    if not store.exists():
        return {}
    return {day: Known(**row) for day, row in json.loads(store.read_text(encoding="utf-8")).items()}


def improved(
    known: dict[str, Known], day: str, look: Look, *, engine: str, seed: int, seconds: float, store: Path = STORE
) -> bool:
    """Take the plan up and write the file if nothing better is known of the day; whether it was."""
    if day in known and known[day].cost <= look.cost:
        return False
    known[day] = Known(look.cost, engine, seed, seconds, fingerprint(look.orders), look.orders)
    rows = [f" {json.dumps(key)}: {json.dumps(asdict(known[key]))}" for key in sorted(known, key=_by_size)]
    store.write_text("{\n" + ",\n".join(rows) + "\n}\n", encoding="utf-8")
    return True


def holds(problem: Problem, row: Known) -> bool:
    """Whether the plan still costs what the file says, and is the plan of its fingerprint."""
    return row.plan == fingerprint(row.orders) and scored(frame_of(problem), row.orders).cost == row.cost


def _by_size(day: str) -> tuple[int, ...]:
    return tuple(int(part) for part in day.split("/"))
