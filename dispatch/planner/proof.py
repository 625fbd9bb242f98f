"""
Small days solved to proven optimality: every route worth having, then the best choice of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from time import perf_counter

from dispatch.planner.assign import choose
from dispatch.planner.columns import choice_of, crewed, with_routes
from dispatch.planner.compact import Compact
from dispatch.planner.enumeration import every_route
from dispatch.planner.kernels import COST
from dispatch.planner.search import Orders, Searcher

FIRST_ROUNDS = 1_000


@dataclass(frozen=True)
class Proven:
    orders: Orders
    searcher: Searcher


def proven(compact: Compact, searcher: Searcher, deadline: float | None) -> Proven | None:
    """
    The cheapest plan there is, or null where there are too many routes or too little time.

    The searcher runs a few rounds first: the better the plan in hand, the fewer columns have a chance.
    """
    columns = every_route(compact.day, deadline)
    if columns is None:
        return None
    searcher.run_rounds(FIRST_ROUNDS)
    choice = choice_of(compact.day)
    whole, held = with_routes(columns, routes_of(searcher))
    left = 1e9 if deadline is None else deadline - perf_counter()
    chosen = choose(whole, choice, held, seconds=left)
    if not chosen.optimal:
        return None
    return Proven(searcher.orders_from(crewed(whole, choice, chosen.picked)), searcher)


def routes_of(searcher: Searcher) -> list[tuple[int, int, list[int]]]:
    """The routes of a searcher's best plan, as columns."""
    searcher.to_best()
    found = []
    for c in range(len(searcher.best.stops)):
        nodes = [int(v) for v in searcher.best.node[c, 1 : 1 + int(searcher.best.stops[c])]]
        if nodes:
            found.append((c, int(searcher.state.route[c, COST]), nodes))
    return found
