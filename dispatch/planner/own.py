"""
The planner's own engine: prove a small day, search a big one, and let OR-Tools choose from all that was seen.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from time import perf_counter

from dispatch.planner import assign
from dispatch.planner.assign import Chosen
from dispatch.planner.assigner import Assigner
from dispatch.planner.columns import Choice, Columns, choice_of, crewed, pooled, with_routes
from dispatch.planner.compact import Compact, compact_of
from dispatch.planner.enumeration import MOST_VISITS
from dispatch.planner.frame import Frame
from dispatch.planner.parallel import Found, search
from dispatch.planner.proof import proven, routes_of
from dispatch.planner.search import Orders, Searcher

# Below this, loading the assignment would take more from the search than it gives.
ASSIGNED_FROM_S = 5.0
ASSIGNED_SHARE = 0.1
PROOF_SHARE = 0.5
NO_CLOCK_S = 1e9

Choosing = Callable[[Columns, Choice, tuple[int, ...], float | None], Chosen | None]


@dataclass(frozen=True)
class Result:
    """
    Visits for each crew, begun ones first.

    :ivar proven: no plan at all is cheaper.
    :ivar bound: no plan of the routes seen is cheaper than this; null if not worked out.
    """

    orders: Orders
    iterations: int
    pooled: int
    proven: bool = False
    bound: int | None = None


def run(
    frame: Frame,
    seed: int,
    *,
    seconds: float | None,
    iterations: int | None,
    start: Sequence[Sequence[int]],
    warm: bool,
    prove: bool,
    on_cost: Callable[[int], None],
) -> Result:
    """Search for ``seconds`` from now, or for ``iterations`` rounds in each of the searches."""
    begun_at = perf_counter()
    compact = compact_of(frame)
    if prove and len(compact.visits) <= MOST_VISITS:
        searcher = Searcher(compact, seed, start)
        small = proven(compact, searcher, None if seconds is None else begun_at + PROOF_SHARE * seconds)
        if small is not None:
            return Result(small.orders, searcher.iterations, int(searcher.pool.held[0]), proven=True)
    share = 0.0 if seconds is None or seconds < ASSIGNED_FROM_S else ASSIGNED_SHARE * seconds
    with ExitStack() as stack:
        # A small pool is chosen from in no time, so it needs no process that could be killed.
        choose: Choosing | None = None
        if seconds is None or share:
            big = len(compact.visits) > MOST_VISITS
            choose = stack.enter_context(Assigner()).choose if big else _choose_here
        found = search(
            compact,
            seed,
            deadline=None if seconds is None else begun_at + seconds - share,
            iterations=iterations,
            start=start,
            warm=warm,
            on_cost=lambda cost: on_cost(cost % compact.must_price),
        )
        if choose is None:
            return _unassigned(found)
        left = None if seconds is None else begun_at + seconds - perf_counter()
        return _assigned(compact, found, choose, left)


def _choose_here(columns: Columns, choice: Choice, held: tuple[int, ...], seconds: float | None) -> Chosen:
    return assign.choose(columns, choice, held, seconds=NO_CLOCK_S if seconds is None else seconds)


def _unassigned(found: Found) -> Result:
    return Result(found.orders, found.iterations, _pooled(found))


def _pooled(found: Found) -> int:
    return sum(int(s.pool.held[0]) for s in found.searchers)


def _assigned(compact: Compact, found: Found, choose: Choosing, seconds: float | None) -> Result:
    """The best choice among all routes seen, if that is better, and the bound that goes with it."""
    best = min(found.searchers, key=lambda s: s.cost)
    columns, held = with_routes(pooled([s.pool for s in found.searchers]), routes_of(best))
    if not held:
        return _unassigned(found)
    choice = choice_of(compact.day)
    chosen = choose(columns, choice, held, seconds)
    if chosen is None:
        return _unassigned(found)
    orders = best.orders_from(crewed(columns, choice, chosen.picked)) if chosen.cost < found.cost else found.orders
    # A bound that counts visits left out at no real price would say nothing in the problem's own unit.
    bound = chosen.bound if chosen.cost < compact.must_price else None
    return Result(orders, found.iterations, _pooled(found), bound=bound)
