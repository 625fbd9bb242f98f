"""
An exact model of small days that shares nothing with the search: every order of every crew, timed by ``schedule`` and
chosen from by CP-SAT.
"""

from __future__ import annotations

from ortools.sat.python import cp_model

from dispatch.planner.frame import frame_of
from dispatch.planner.problem import Problem
from dispatch.planner.schedule import Timed, schedule


def optimum(problem: Problem) -> tuple[int, int]:
    """Must-serve visits left out, and the cost, of the best plan there is."""
    frame = frame_of(problem)
    assert not frame.begun_by, "whole days only"
    assert not frame.under_way_by, "whole days only"
    model = cp_model.CpModel()
    price = 1 + sum(v.skip or 0 for v in problem.visits) + 10**9
    cost: list[cp_model.LinearExpr] = []
    covering: list[list[cp_model.IntVar]] = [[] for _ in problem.visits]
    for crew in range(len(problem.crews)):
        mine = []
        for visits, route_cost in _routes(problem, crew).items():
            taken = model.new_bool_var("")
            mine.append(taken)
            cost.append(route_cost * taken)
            for v in visits:
                covering[v].append(taken)
        model.add_at_most_one(mine)
    for v, visit in enumerate(problem.visits):
        out = model.new_bool_var("")
        model.add_exactly_one([*covering[v], out])
        cost.append((price if visit.skip is None else visit.skip) * out)
    model.minimize(sum(cost))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    assert solver.solve(model) == cp_model.OPTIMAL
    return divmod(round(solver.objective_value), price)


def _routes(problem: Problem, crew: int) -> dict[frozenset[int], int]:
    """The least cost of every set of visits that some order lets this crew serve."""
    frame = frame_of(problem)
    best: dict[frozenset[int], int] = {}
    orders: list[tuple[int, ...]] = [()]
    while orders:
        longer: list[tuple[int, ...]] = []
        for order in orders:
            for v in range(len(problem.visits)):
                if v in order:
                    continue
                route = schedule(frame, crew, (*order, v))
                if isinstance(route, Timed):
                    longer.append(route.visits)
                    key = frozenset(route.visits)
                    best[key] = min(route.cost, best.get(key, route.cost))
        orders = longer
    return best
