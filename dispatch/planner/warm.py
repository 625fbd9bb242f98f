"""
Compile the kernels and load the solvers before anybody waits for them.

Called when the runner starts and while the demo company loads, never inside a request: the first compilation on a
machine takes the better part of a minute, every later one loads from the cache on disk in about a second.
"""

from __future__ import annotations

import numpy as np

from dispatch.planner.compact import compact_of
from dispatch.planner.divided import cut, part_of
from dispatch.planner.early import PARTS
from dispatch.planner.frame import frame_of
from dispatch.planner.problem import Break, Crew, Place, Prices, Travel, Visit, build
from dispatch.planner.search import Searcher
from dispatch.planner.solve import Limit, solve


def warm() -> None:
    """Solve one tiny day that touches every kernel."""
    places = [Place(id=name, lat=45.5, lon=-122.6 - i / 10) for i, name in enumerate("dab")]
    seconds = ((0, 600, 900), (600, 0, 300), (900, 300, 0))
    crew = Crew(
        id="c",
        start="d",
        end="d",
        from_s=0,
        until_s=20_000,
        at_latest_s=30_000,
        capacity={"unit": 4},
        break_rule=Break(seconds=600, from_s=0, until_s=9_000),
    )
    visits = [
        Visit(id="v", place="a", service_s=600, deliver={"unit": 1}, promised_s=3_000, per_moved_second=1, skip=10**6),
        Visit(id="w", place="b", service_s=600, collect={"unit": 1}, due_s=60, per_late_second=1, skip=10**6),
    ]
    problem = build(
        [crew],
        visits,
        places,
        travel=Travel(seconds=seconds, meters=seconds),
        prices=Prices(per_meter=1),
    )
    solve(problem, limit=Limit(iterations=20), seed=1)
    # The greedy plan of so small a day leaves the search nothing to place: a big day begins from nothing.
    searcher = Searcher(compact_of(frame_of(problem)), seed=1)
    searcher.run_rounds(1)
    # One in parts pours their routes together.
    day, state = searcher.compact.day, searcher.state
    sides = cut(day, state, np.random.default_rng(1), PARTS)
    searcher.join([part_of(day, state, *side, seed=1) for side in sides], 0)
