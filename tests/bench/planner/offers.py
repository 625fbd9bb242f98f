"""
How long one question "who could take this visit" takes, the day kept warm.

    python -m tests.bench.planner.offers [crews] [visits] [days]

Each day is published first: every stop has a promised start, so that every insertion has promises to move.
"""

from __future__ import annotations

import statistics
import sys
import time
from random import Random

from dispatch.planner.offers import standing_of
from dispatch.planner.plan import Plan
from dispatch.planner.problem import Break, Problem
from tests.dispatch.planner.days import planned, random_day

EVERY_STATE = ("OR", "WA")


def published_day(seed: int, visits: int, crews: int) -> tuple[Problem, Plan]:
    """A day most of whose visits are planned and promised, able crews, a break for each."""
    problem = random_day(Random(seed), visits, crews, running=False)
    lunch = Break(seconds=1_800, from_s=37_800, until_s=52_200)
    able = {"skills": ("mould", "asbestos"), "states": EVERY_STATE, "capacity": {"mover": 40}, "break_rule": lunch}
    lighter = [{"service_s": min(v.service_s, 2_400), "skip": v.skip or 90_000, "only": None} for v in problem.visits]
    problem = problem.model_copy(
        update={
            "crews": tuple(c.model_copy(update={**able, "driving_limit_s": None}) for c in problem.crews),
            "visits": tuple(v.model_copy(update=u) for v, u in zip(problem.visits, lighter, strict=True)),
        }
    )
    plan = planned(problem)
    starts = {stop.visit: stop.start_s for route in plan.routes for stop in route.stops}
    promised = tuple(
        v.model_copy(update={"promised_s": starts.get(v.id), "per_moved_second": 2}) for v in problem.visits
    )
    return problem.model_copy(update={"visits": promised}), plan


def main(crews: int = 40, visits: int = 270, days: int = 5) -> None:
    """Print the milliseconds of wall and of processor time, over every visit that the days leave open."""
    wall_ms: list[float] = []
    cpu_ms: list[float] = []
    stops = 0
    for seed in range(days):
        problem, plan = published_day(seed, visits, crews)
        stops += sum(len(route.stops) for route in plan.routes)
        standing = standing_of(problem, plan)
        for left in plan.skipped:
            begun, cpu_begun = time.perf_counter(), time.process_time()
            standing.offers(left.visit)
            wall_ms.append(1_000 * (time.perf_counter() - begun))
            cpu_ms.append(1_000 * (time.process_time() - cpu_begun))
    print(f"{crews} crews, {stops / days:.0f} stops, {len(wall_ms)} questions")
    for name, times in (("wall", wall_ms), ("cpu", cpu_ms)):
        print(f"{name}: median {statistics.median(times):.1f} ms, longest {max(times):.1f} ms")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
