"""
OR-Tools chooses one route for each crew out of many: every visit covered once or paid for.

Columns are first priced by a linear programme; only those whose reduced cost leaves them a chance go to CP-SAT, which
runs with one worker and a deterministic limit. The bound follows from whole-number prices alone, whatever the solvers
round, so it is exact for the columns it was worked out over.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from time import perf_counter
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dispatch.planner.columns import Choice, Columns, cheapest_by_set
from dispatch.planner.compact import Ints

MOST_CHOSEN_FROM = 2_500
FIRST_PRICED = 1_500
ADDED_PRICED = 1_000
MOST_PRICINGS = 12
# CP-SAT's own count of work, the same on any machine; about as many seconds on ours.
WORK_LIMIT = 2.0


@dataclass(frozen=True)
class Chosen:
    """The columns chosen, what the whole comes to, and the least that any choice of these columns comes to."""

    picked: tuple[int, ...]
    cost: int
    bound: int
    optimal: bool


@dataclass(frozen=True)
class Priced:
    """Whole-number prices by visit and group, the bound they prove, and every column's reduced cost."""

    visit: Ints
    bound: int
    reduced: Ints


def choose(
    columns: Columns,
    choice: Choice,
    held: tuple[int, ...],
    seconds: float = 1e9,
    work: float = WORK_LIMIT,
    on_bound: Callable[[Chosen], None] = lambda chosen: None,
) -> Chosen:
    """
    The cheapest choice found, never dearer than ``held`` (columns of a plan that covers each visit at most once).

    :param on_bound: told the columns held and their bound as soon as that is known.
    :param seconds: what the clock allows; ``work`` limits CP-SAT the same on any machine.
    """
    deadline = perf_counter() + seconds
    cost = cost_of(columns, choice, held)
    kept = np.union1d(cheapest_by_set(columns, choice), np.array(held, dtype=np.intp)).astype(np.intp)
    priced = price(columns, choice, kept, held, lambda: perf_counter() > deadline)
    slack = cost - priced.bound
    if slack <= 0:
        return Chosen(held, cost, cost, True)
    on_bound(Chosen(held, cost, priced.bound, False))
    hopeful = kept[priced.reduced <= slack]
    complete = len(hopeful) <= MOST_CHOSEN_FROM
    if not complete:
        hopeful = hopeful[np.argsort(priced.reduced[priced.reduced <= slack], kind="stable")[:MOST_CHOSEN_FROM]]
    hopeful = np.union1d(hopeful, np.array(held, dtype=np.intp)).astype(np.intp)
    left = deadline - perf_counter()
    if left <= 0:
        return Chosen(held, cost, min(priced.bound, cost), False)
    picked, optimal = _partition(columns, choice, hopeful, held, left, work)
    found = cost_of(columns, choice, picked)
    if found > cost:
        picked, found = held, cost
    proven = optimal and complete
    return Chosen(picked, found, found if proven else min(priced.bound, found), proven)


def cost_of(columns: Columns, choice: Choice, picked: tuple[int, ...]) -> int:
    """The whole cost: the columns picked, the other crews as they stand, and what no column covers."""
    covered = {v for j in picked for v in columns.route(j)}
    total = int(choice.idle.sum()) + sum(int(s) for v, s in enumerate(choice.skip) if v not in covered)
    return total + sum(int(columns.cost[j]) - int(choice.idle[columns.crew[j]]) for j in picked)


def price(
    columns: Columns, choice: Choice, kept: NDArray[np.intp], held: tuple[int, ...], late: Callable[[], bool]
) -> Priced:
    """Prices by column generation over ``kept``; they prove a bound even when time cuts them short."""
    inside = np.zeros(len(columns), dtype=bool)
    inside[kept[:FIRST_PRICED]] = True
    inside[kept[-FIRST_PRICED:]] = True
    inside[list(held)] = True
    best: Priced | None = None
    for _ in range(MOST_PRICINGS):
        duals = _linear(columns, choice, np.flatnonzero(inside))
        priced = _proved(columns, choice, kept, duals)
        if best is None or priced.bound > best.bound:
            best = priced
        missing = (priced.reduced < 0) & ~inside[kept]
        if not missing.any() or late():
            break
        worst = np.argsort(np.where(missing, priced.reduced, np.iinfo(np.int64).max), kind="stable")[:ADDED_PRICED]
        inside[kept[worst[missing[worst]]]] = True
    assert best is not None, "at least one pricing is done"
    return best


def _proved(columns: Columns, choice: Choice, kept: NDArray[np.intp], duals: tuple[Ints, Ints]) -> Priced:
    """The bound that whole-number prices prove over ``kept``, and what each column costs beyond its prices."""
    visit, group = duals
    summed = np.add.reduceat(visit[columns.stops], columns.start[:-1]) if len(columns) else np.zeros(0, dtype=np.int64)
    net = columns.cost - choice.idle[columns.crew] - summed
    groups = choice.group[columns.crew[kept]]
    reduced = net[kept] - group[groups]
    least = np.full(len(choice.many), np.iinfo(np.int64).max)
    np.minimum.at(least, groups, net[kept])
    least = np.where(choice.must_go > 0, least, np.minimum(least, 0))
    least[least == np.iinfo(np.int64).max] = 0
    paid = visit + np.minimum(0, choice.skip - visit)
    bound = int(choice.idle.sum()) + int(paid.sum()) + int((choice.many * least).sum())
    return Priced(visit=visit, bound=bound, reduced=reduced)


def _linear(columns: Columns, choice: Choice, inside: NDArray[np.intp]) -> tuple[Ints, Ints]:
    """Prices by visit and by group from the linear programme over some columns, rounded to whole numbers."""
    from ortools.linear_solver import pywraplp

    solver: Any = pywraplp.Solver.CreateSolver("GLOP")
    infinity = solver.infinity()
    covered = [solver.Constraint(1.0, 1.0) for _ in choice.skip]
    used = [solver.Constraint(float(must), float(many)) for must, many in zip(choice.must_go, choice.many, strict=True)]
    objective = solver.Objective()
    for v, skip in enumerate(choice.skip):
        out = solver.NumVar(0.0, infinity, "")
        covered[v].SetCoefficient(out, 1.0)
        objective.SetCoefficient(out, float(skip))
    for j in inside:
        chosen = solver.NumVar(0.0, infinity, "")
        objective.SetCoefficient(chosen, float(columns.cost[j] - choice.idle[columns.crew[j]]))
        used[int(choice.group[columns.crew[j]])].SetCoefficient(chosen, 1.0)
        for v in columns.route(int(j)):
            covered[v].SetCoefficient(chosen, 1.0)
    objective.SetMinimization()
    if solver.Solve() != pywraplp.Solver.OPTIMAL:
        return np.zeros(len(covered), dtype=np.int64), np.zeros(len(used), dtype=np.int64)
    return (
        np.array([round(row.dual_value()) for row in covered], dtype=np.int64),
        np.array([round(row.dual_value()) for row in used], dtype=np.int64),
    )


def _partition(
    columns: Columns, choice: Choice, hopeful: NDArray[np.intp], held: tuple[int, ...], seconds: float, work: float
) -> tuple[tuple[int, ...], bool]:
    from ortools.sat.python import cp_model

    model: Any = cp_model.CpModel()
    taken = {int(j): model.new_bool_var("") for j in hopeful}
    covering: list[list[Any]] = [[] for _ in choice.skip]
    using: list[list[Any]] = [[] for _ in choice.many]
    for j, var in taken.items():
        using[int(choice.group[columns.crew[j]])].append(var)
        for v in columns.route(j):
            covering[v].append(var)
    served = {v for j in held for v in columns.route(j)}
    costs = [(var, int(columns.cost[j]) - int(choice.idle[columns.crew[j]])) for j, var in taken.items()]
    worst = sum(abs(cost) for _, cost in costs)
    for v, variables in enumerate(covering):
        out = model.new_bool_var("")
        model.add_exactly_one([*variables, out])
        model.add_hint(out, v not in served)
        # A price beyond the whole of all columns decides nothing more than that whole does.
        costs.append((out, min(int(choice.skip[v]), worst + 1)))
    for g, variables in enumerate(using):
        if choice.must_go[g]:
            model.add(sum(variables) == int(choice.many[g]))
        elif variables:
            model.add(sum(variables) <= int(choice.many[g]))
    for j, var in taken.items():
        model.add_hint(var, j in held)
    model.minimize(sum(cost * var for var, cost in costs))
    solver: Any = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = work
    solver.parameters.max_time_in_seconds = max(0.01, seconds)
    status = solver.solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return held, False
    return tuple(j for j, var in taken.items() if solver.value(var)), status == cp_model.OPTIMAL
