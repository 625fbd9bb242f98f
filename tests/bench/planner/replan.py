"""
A published day running, and an emergency calls: how soon is the new plan as good as it will get?

    python -m tests.bench.planner.replan 200 100 --at 10.5 --seconds 0.5 2 10
"""

from __future__ import annotations

import argparse
import json
from typing import Any

from dispatch.planner.plan import Plan
from dispatch.planner.problem import read_problem
from dispatch.planner.solve import Limit, solve
from dispatch.planner.warm import warm
from tests.bench.planner import days

# $15 for another crew, $72 an hour for another time.
ANOTHER_CREW, PER_MOVED_SECOND = 150_000, 200


def running(raw: dict[str, Any], plan: Plan, now_s: int) -> dict[str, Any]:
    """The day as it stands at ``now_s``: what has started is begun, what is published is promised."""
    day: dict[str, Any] = json.loads(json.dumps(raw))
    day["now"] = now_s
    visits = {v["id"]: v for v in day["visits"]}
    crews = {c["id"]: c for c in day["crews"]}
    for route in plan.routes:
        crew = crews[route.crew]
        begun = [s for s in route.stops if s.start_s <= now_s]
        crew["begun"] = [{"visit": s.visit, "start": s.start_s, "leave": s.leave_s} for s in begun]
        if route.break_span is not None and route.break_span[0] <= now_s:
            crew["break_taken"] = list(route.break_span)
        for stop in route.stops[len(begun) :]:
            visit = visits[stop.visit]
            visit["promised"], visit["per_moved_second"] = stop.start_s, PER_MOVED_SECOND
            visit["prefer"] = {route.crew: 0, "*": ANOTHER_CREW}
    return day


def with_call(day: dict[str, Any], at: str, now_s: int) -> dict[str, Any]:
    """The same day with one more emergency, at the place of another visit."""
    place = next(v["place"] for v in day["visits"] if v["id"] == at)
    call = {
        **next(v for v in day["visits"] if v["id"] == at),
        "id": "call",
        "place": place,
        "service_s": 10_800,
        "window": [now_s, now_s + 21_600],
        "due": now_s + 3_600,
        "per_late_second": 1_000,
        "skills": ["structure"],
        "skip": 100_000_000,
        "prefer": {},
        "promised": None,
        "per_moved_second": 0,
    }
    return {**day, "visits": [*day["visits"], call]}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("visits", type=int)
    parser.add_argument("seed", type=int)
    parser.add_argument("--at", type=float, default=10.5, help="hour of the call")
    parser.add_argument("--first", type=float, default=10.0, help="seconds for the published plan")
    parser.add_argument("--seconds", type=float, nargs="+", default=[0.5, 2.0, 10.0])
    asked = parser.parse_args()
    warm()
    raw, now_s = days.day(asked.visits, asked.seed), round(asked.at * 3600)
    published = solve(read_problem(json.dumps(raw)), limit=Limit(seconds=asked.first), seed=1).plan
    problem = read_problem(json.dumps(with_call(running(raw, published, now_s), "visit 7", now_s)))
    for seconds in asked.seconds:
        outcome = solve(problem, limit=Limit(seconds=seconds), seed=1, start=published)
        others = sum(m.crew_before != m.crew_after for m in outcome.moves)
        print(f"{seconds:5.1f} s  cost {outcome.plan.cost.total:12d}  moves {len(outcome.moves):3d}  crews {others:3d}")


if __name__ == "__main__":
    main()
