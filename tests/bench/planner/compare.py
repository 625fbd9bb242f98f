"""
Engines side by side: the same problem, the same seconds, two cores each, every answer timed, priced and judged alike.

    python -m tests.bench.planner.compare day 200 100 --seconds 3 10
    python -m tests.bench.planner.compare academic FOLDER Solomon/R207 GH200/R1_2_1 --seconds 10
"""

from __future__ import annotations

import argparse
import json
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

from dispatch.planner import routing
from dispatch.planner.compact import compact_of
from dispatch.planner.construct import filled, greedy
from dispatch.planner.finish import draft_of, finished
from dispatch.planner.frame import frame_of
from dispatch.planner.plan import Search
from dispatch.planner.problem import Problem, read_problem
from dispatch.planner.solve import Limit, solve
from dispatch.planner.warm import warm
from tests.bench.planner import academic, days, pyvrp_model


def scored(problem: Problem, nodes: list[list[int]]) -> int:
    """The cost of an engine's routes once they are timed and judged; what does not hold is put where it fits."""
    frame = frame_of(problem)
    draft = draft_of(frame, routing.orders(compact_of(frame), nodes))
    draft = filled(frame, draft, sorted(draft.left_out))
    return finished(frame, draft, Search()).cost.total


def own(problem: Problem, seconds: float, seed: int) -> int:
    return solve(problem, limit=Limit(seconds=seconds), seed=seed).plan.cost.total


def second(problem: Problem, seconds: float, seed: int) -> int:
    return solve(problem, limit=Limit(seconds=seconds), seed=seed, engine="routing").plan.cost.total


def by_greedy(problem: Problem, seconds: float, seed: int) -> int:
    frame = frame_of(problem)
    return finished(frame, greedy(frame), Search()).cost.total


def pyvrp(problem: Problem, seconds: float, seed: int) -> int:
    """Two processes with two seeds; the better counts."""
    with ProcessPoolExecutor(2) as team:
        return min(team.map(_pyvrp_alone, [problem.model_dump_json()] * 2, [seconds] * 2, [2 * seed, 2 * seed + 1]))


def _pyvrp_alone(raw: str, seconds: float, seed: int) -> int:
    problem = read_problem(raw)
    return scored(problem, pyvrp_model.routes(compact_of(frame_of(problem)), seconds, seed))


ENGINES = {"own": own, "pyvrp": pyvrp, "routing": second, "greedy": by_greedy}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("kind", choices=["day", "academic"])
    parser.add_argument("what", nargs="+", help="visits and seeds, or the folder and instances")
    parser.add_argument("--seconds", type=float, nargs="+", default=[10.0])
    parser.add_argument("--engines", nargs="+", choices=ENGINES, default=list(ENGINES))
    asked = parser.parse_args()
    warm()
    known: dict[str, float] = {}
    problems: dict[str, dict[str, Any]] = {}
    if asked.kind == "day":
        visits, *seeds = (int(x) for x in asked.what)
        problems = {f"{visits} visits, seed {seed}": days.day(visits, seed) for seed in seeds}
    else:
        folder, *names = asked.what
        known = academic.best_known(Path(folder))
        problems = {name: academic.problem_of(Path(folder) / f"{name}.vrp") for name in names}
    for name, raw in problems.items():
        problem = read_problem(json.dumps(raw))
        for engine in asked.engines:
            for seconds in asked.seconds if engine != "greedy" else asked.seconds[:1]:
                cost = ENGINES[engine](problem, seconds, 1)
                gap = f"{100 * (cost / 10 / known[name] - 1):7.2f} %" if name in known else ""
                print(f"{name:24} {engine:8} {seconds:5.0f} s {cost:12d} {gap}", flush=True)


if __name__ == "__main__":
    main()
