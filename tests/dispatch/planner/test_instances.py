"""Stored days: read, planned, judged, and written back as they were."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from dispatch.planner.check import check
from dispatch.planner.plan import Plan
from dispatch.planner.problem import Problem, read_problem
from dispatch.planner.solve import Limit, solve
from tests.dispatch.planner.days import planned

INSTANCES = sorted((Path(__file__).parents[2] / "instances").glob("*.json"))


def test_there_are_instances() -> None:
    assert len(INSTANCES) >= 8


@pytest.mark.parametrize("path", INSTANCES, ids=[path.stem for path in INSTANCES])
def test_a_stored_day_is_planned_soundly(path: Path) -> None:
    problem = read_problem(path.read_bytes())
    assert problem.to_json() == json.loads(path.read_bytes())
    greedy = planned(problem)
    found = solve(problem, limit=Limit(iterations=300), seed=1).plan
    assert check(problem, found) == ()
    assert _worth(problem, found) <= _worth(problem, greedy)


def _worth(problem: Problem, plan: Plan) -> tuple[int, int]:
    """Must-serve visits left out, then the cost."""
    must = {v.id for v in problem.visits if v.skip is None}
    return sum(left.visit in must for left in plan.skipped), plan.cost.total
