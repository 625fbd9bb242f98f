"""
Covering whole-numbered needs of one kind from shared stock, by arithmetic where that is exact, else with CP-SAT.

Goals in order: least uncovered in all; fewest units; least amps; least surplus; least uncovered for the first need,
the second and so on; then names: most of the first model in all, of the second and so on; then the first models to the
first needs. The last rules leave exactly one answer, so arithmetic and solver must agree.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

DETERMINISTIC_LIMIT = 0.08
"""Per goal. Where it is reached the best found stands, and the mix says that it is not proven."""
MOST_WEIGHT = 1 << 40


@dataclass(frozen=True, slots=True)
class Stock:
    """One model, whole-numbered; models come in the order of their names."""

    each: int
    amps: int
    free: int


@dataclass(frozen=True, slots=True)
class Cover:
    """Units by need and model."""

    counts: tuple[tuple[int, ...], ...]
    proven: bool = True


def warm() -> None:
    """Load OR-Tools, which takes most of a second."""
    by_solver((7, 5), (Stock(3, 1, 2), Stock(4, 1, 2)))


def by_arithmetic(wanted: Sequence[int], stock: Sequence[Stock]) -> Cover | None:
    """The answer where it has a closed form, else None."""
    if not stock or not any(wanted):
        return Cover(tuple(tuple(0 for _ in stock) for _ in wanted))
    pieces = stock[0].each
    if len({model.each for model in stock}) == 1 and all(need % pieces == 0 for need in wanted):
        return _pieces([need // pieces for need in wanted], stock)
    if len({model.each for model in stock}) == 1:
        units = [-(-need // pieces) for need in wanted]
        return _pieces(units, stock) if sum(units) <= sum(model.free for model in stock) else None
    if len(wanted) == 1 and sum(model.each * model.free for model in stock) <= wanted[0]:
        return Cover((tuple(model.free for model in stock),))
    return None


def _pieces(units: Sequence[int], stock: Sequence[Stock]) -> Cover:
    """Models that do the same: least amps first, then the first names; the first needs are met first."""
    left = sum(units)
    taken = [0] * len(stock)
    for index in sorted(range(len(stock)), key=lambda i: (stock[i].amps, i)):
        taken[index] = min(left, stock[index].free)
        left -= taken[index]
    counts = []
    for need in units:
        row = []
        for index, there in enumerate(taken):
            take = min(need, there)
            taken[index] -= take
            need -= take
            row.append(take)
        counts.append(tuple(row))
    return Cover(tuple(counts))


def by_solver(wanted: Sequence[int], stock: Sequence[Stock]) -> Cover:
    """The same answer from CP-SAT: one worker, a fixed seed, a deterministic limit for each goal."""
    if not stock or not any(wanted):
        return Cover(tuple(tuple(0 for _ in stock) for _ in wanted))
    goals = _Goals(wanted, stock)
    proven = True
    for goal in goals.in_order():
        optimal = goals.minimise(goal)
        if optimal is None:
            # A goal that is not held could be undone by the next, so what is at hand stands.
            return Cover(goals.counts, proven=False)
        proven = optimal and proven
    return Cover(goals.counts, proven)


class _Goals:
    """The model, solved goal after goal: each goal's best is held while the next is sought."""

    def __init__(self, wanted: Sequence[int], stock: Sequence[Stock]) -> None:
        from ortools.sat.python import cp_model

        self._cp = cp_model
        self._model: Any = cp_model.CpModel()
        self._stock = stock
        self._most = [[min(model.free, -(-need // model.each)) for model in stock] for need in wanted]
        self._x = [[self._model.new_int_var(0, most, "") for most in row] for row in self._most]
        for index, model in enumerate(stock):
            self._model.add(sum(row[index] for row in self._x) <= model.free)
        self._missing: list[Any] = []
        self._surplus: list[Any] = []
        for need, row, most in zip(wanted, self._x, self._most, strict=True):
            missing = self._model.new_int_var(0, need, "")
            over = self._model.new_int_var(0, sum(m.each * n for m, n in zip(stock, most, strict=True)), "")
            self._model.add(sum(m.each * x for m, x in zip(stock, row, strict=True)) + missing - over == need)
            self._missing.append(missing)
            self._surplus.append(over)
        self.counts: tuple[tuple[int, ...], ...] = tuple(tuple(0 for _ in stock) for _ in wanted)
        self._uncovered = True
        self._start(wanted)

    def _start(self, wanted: Sequence[int]) -> None:
        """A greedy cover to start from, so that even at the limit there is an answer: largest first, need by need."""
        free = [model.free for model in self._stock]
        order = sorted(range(len(free)), key=lambda i: (-self._stock[i].each, self._stock[i].amps, i))
        counts = [[0] * len(free) for _ in wanted]
        for row, need in enumerate(wanted):
            for index in order:
                take = min(free[index], max(0, -(-need // self._stock[index].each)))
                counts[row][index] = take
                free[index] -= take
                need -= take * self._stock[index].each
        self.counts = tuple(tuple(row) for row in counts)

    def in_order(self) -> Iterator[Any]:
        every = [x for row in self._x for x in row]
        yield sum(self._missing)
        yield sum(every)
        yield sum(model.amps * row[i] for row in self._x for i, model in enumerate(self._stock))
        yield sum(self._surplus)
        if self._uncovered:
            yield from self._missing
        columns = [
            (sum(row[i] for row in self._x), min(self._stock[i].free, sum(most[i] for most in self._most)))
            for i in range(len(self._stock))
        ]
        yield from _one_by_one(columns[:-1])
        cells = [
            (x, most)
            for row, mosts in zip(self._x, self._most, strict=True)
            for x, most in zip(row, mosts, strict=True)
        ]
        if len(self._x) > 1:
            yield from _one_by_one(cells)

    def minimise(self, goal: Any) -> bool | None:
        """
        Hold a goal at its least; False if the limit came first, and the best found is held; None if none was found.
        """
        self._model.clear_hints()
        for row, counts in zip(self._x, self.counts, strict=True):
            for x, count in zip(row, counts, strict=True):
                self._model.add_hint(x, count)
        self._model.minimize(goal)
        solver = self._solver()
        status = solver.solve(self._model)
        if status == self._cp.INFEASIBLE:
            # The counts at hand refute that. The presolve of OR-Tools 9.15 errs on some small models, e.g. x + 2y + 3z
            # least with 50x + 50y + 20z >= 56 and x + y + z = 2; the search alone does not.
            solver.parameters.cp_model_presolve = False
            status = solver.solve(self._model)
        if status not in (self._cp.OPTIMAL, self._cp.FEASIBLE):
            return None
        self._model.add(goal == int(solver.value(goal)))
        self.counts = tuple(tuple(int(solver.value(x)) for x in row) for row in self._x)
        self._uncovered = any(solver.value(missing) for missing in self._missing)
        return bool(status == self._cp.OPTIMAL)

    def _solver(self) -> Any:
        solver: Any = self._cp.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = 1
        solver.parameters.max_deterministic_time = DETERMINISTIC_LIMIT
        solver.parameters.linearization_level = 2
        solver.parameters.cp_model_probing_level = 0
        solver.parameters.symmetry_level = 0
        return solver


def _one_by_one(terms: Sequence[tuple[Any, int]]) -> Iterator[Any]:
    """Goals that make each term as large as can be in turn, several in one sum as far as whole numbers carry."""
    group: list[tuple[Any, int]] = []
    span = 1
    for term, most in terms:
        if group and span * (most + 1) > MOST_WEIGHT:
            yield _weighted(group)
            group, span = [], 1
        group.append((term, most))
        span *= most + 1
    if group:
        yield _weighted(group)


def _weighted(group: Sequence[tuple[Any, int]]) -> Any:
    total: Any = 0
    weight = 1
    for term, most in reversed(group):
        total = total - weight * term
        weight *= most + 1
    return total
