"""Without a compiler the same code finds the same plan, only later."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

from dispatch.planner.solve import Limit, solve
from tests.dispatch.planner.random_days import random_day

ROOT = Path(__file__).resolve().parents[3]
ASKED = """
import json
from dispatch.planner import jit
from dispatch.planner.solve import Limit, solve
from tests.dispatch.planner.random_days import random_day
assert not jit.COMPILED
print(json.dumps(solve(random_day(8, 10, 3), limit=Limit(iterations=30), seed=1, prove=False).plan.to_json()))
"""


def test_plain_python_finds_the_same_plan() -> None:
    told = subprocess.run(
        [sys.executable, "-W", "error::RuntimeWarning", "-c", ASKED],
        env={**os.environ, "NUMBA_DISABLE_JIT": "1"},
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    plain = json.loads(told.stdout)
    compiled = solve(random_day(8, 10, 3), limit=Limit(iterations=30), seed=1, prove=False).plan.to_json()
    for plan in (plain, compiled):
        plan["search"].pop("seconds")
    assert plain == compiled
