"""
The packing of whole-numbered loads onto branch circuits, solved with CP-SAT.

A circuit is filled by a pattern (so many units of each load); the solver chooses how many circuits of each limit take
which pattern. That bound is so tight that most packings are proven at once. Only where the patterns are too many does
it count units per circuit instead. One worker, a fixed seed and a deterministic limit: same input, same answer.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

Kinds = tuple[tuple[int, int], ...]
"""(amps, count) with amps distinct, above zero and falling."""

MOST_PATTERNS = 4000
DETERMINISTIC_LIMIT = 0.25


@dataclass(frozen=True, slots=True)
class Branches:
    limits: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Placed:
    circuits: tuple[Mapping[int, int], ...]
    units: int
    units_bound: int
    proven: bool


def warm() -> None:
    """Load OR-Tools, which takes most of a second."""
    place(((6, 2), (5, 2)), Branches((10, 6)))


def place(kinds: Kinds, branches: Branches) -> Placed:
    """The packing with most units, then most amps."""
    limits = branches.limits
    every = sum(count for _, count in kinds)
    best = _best_fit(kinds, limits)
    units = _count(best)
    fitting = tuple((amps, count) for amps, count in kinds if limits and amps <= max(limits))
    bound = _units_bound(fitting, sum(limits))
    if units == every:
        return Placed(tuple(best), units, units, True)
    if not fitting:
        return Placed(tuple(best), 0, 0, True)
    model = _Model(fitting, limits, best)
    units_found, units_bound = model.maximise([1] * len(fitting))
    units_bound = min(units_bound, bound)
    amps_found, amps_bound = model.maximise([amps for amps, _ in fitting], exactly=units_found)
    proven = units_found == units_bound and amps_found == amps_bound
    return Placed(tuple(model.circuits()), units_found, units_bound, proven)


def further(kinds: Kinds, branches: Branches, limit: int) -> tuple[int, int] | None:
    """
    Circuits of a limit to add so that everything fits: a number that does, and one below which none does.

    None if no number is found, as when a load over the limit has no place left on the circuits that are there.
    """
    every = sum(count for _, count in kinds)
    heavy = tuple((amps, count) for amps, count in kinds if amps > limit)
    if heavy and place(heavy, branches).units < sum(count for _, count in heavy):
        return None
    load = sum(amps * count for amps, count in kinds)
    least = max(0, -(-(load - sum(branches.limits)) // limit))
    most, fits = least, False
    # A unit more never takes more than a circuit more, so beyond this only loads over the limit are in the way.
    for most in range(least, least + every + 1):
        fits = _count(_best_fit(kinds, (*branches.limits, *([limit] * most)))) == every
        if fits:
            break
    if fits and most == least:
        return most, least
    return _Further(kinds, branches.limits, limit, most).fewest(least, known=fits)


def _count(circuits: Sequence[Mapping[int, int]]) -> int:
    return sum(sum(circuit.values()) for circuit in circuits)


def _best_fit(kinds: Kinds, limits: Sequence[int]) -> list[dict[int, int]]:
    """Largest loads first, each where it leaves least room; then smallest first if that places more."""

    def fill(order: Sequence[tuple[int, int]]) -> list[dict[int, int]]:
        left = list(limits)
        circuits: list[dict[int, int]] = [{} for _ in limits]
        for amps, count in order:
            for _ in range(count):
                room = [index for index, free in enumerate(left) if free >= amps]
                if not room:
                    break
                index = min(room, key=lambda i: (left[i], i))
                left[index] -= amps
                circuits[index][amps] = circuits[index].get(amps, 0) + 1
        return circuits

    falling, rising = fill(kinds), fill(tuple(reversed(kinds)))
    return falling if _count(falling) >= _count(rising) else rising


def _units_bound(kinds: Kinds, room: int) -> int:
    """Units that would fit if all circuits were one: smallest first."""
    units = 0
    for amps, count in reversed(kinds):
        take = min(count, room // amps)
        units += take
        room -= take * amps
    return units


def _patterns(kinds: Kinds, limit: int) -> Iterator[tuple[int, ...]]:
    """Every way of filling one circuit to which nothing can be added."""

    def fill(index: int, left: int, skipped_least: int) -> Iterator[tuple[int, ...]]:
        if index == len(kinds):
            if left < skipped_least:
                yield ()
            return
        amps, count = kinds[index]
        most = min(count, left // amps)
        for take in range(most, -1, -1):
            least = skipped_least if take == count else min(skipped_least, amps)
            for rest in fill(index + 1, left - take * amps, least):
                yield (take, *rest)

    yield from fill(0, limit, limit + 1)


Filled = tuple[int, tuple[int, ...]]
"""(limit, pattern)."""


def _all_patterns(kinds: Kinds, limits: Iterable[int]) -> list[Filled] | None:
    """Patterns of every limit, or None where they are too many to weigh."""
    found: list[Filled] = []
    for limit in sorted(set(limits)):
        for pattern in _patterns(kinds, limit):
            if any(pattern):
                found.append((limit, pattern))
            if len(found) > MOST_PATTERNS:
                return None
    return found


def _solver(cp: Any) -> Any:
    solver = cp.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    # The patterns' linear relaxation is nearly the answer; searching for symmetries and probing only cost time.
    solver.parameters.linearization_level = 2
    solver.parameters.cp_model_probing_level = 0
    solver.parameters.symmetry_level = 0
    solver.parameters.max_deterministic_time = DETERMINISTIC_LIMIT
    return solver


class _Further:
    """The fewest circuits to add, by patterns; without them the best fit stands, unproven."""

    def __init__(self, kinds: Kinds, limits: Sequence[int], limit: int, most: int) -> None:
        self._kinds = kinds
        self._groups = Counter(each for each in limits if each > 0)
        self._limit = limit
        self._most = most

    def fewest(self, least: int, *, known: bool) -> tuple[int, int] | None:
        """The count found and a bound below it; ``known`` says that the most allowed does in any case."""
        patterns = _all_patterns(self._kinds, (*self._groups, self._limit))
        if patterns is None:
            return (self._most, least) if known else None
        from ortools.sat.python import cp_model

        model: Any = cp_model.CpModel()
        added = model.new_int_var(least, self._most, "")
        rows = [(at, p, model.new_int_var(0, self._groups[at] + self._most, "")) for at, p in patterns]
        for at in {*self._groups, self._limit}:
            room = self._groups[at] + (added if at == self._limit else 0)
            model.add(sum(used for limit, _, used in rows if limit == at) <= room)
        for index, (_, count) in enumerate(self._kinds):
            model.add(sum(p[index] * used for _, p, used in rows if p[index]) >= count)
        model.minimize(added)
        solver = _solver(cp_model)
        status = solver.solve(model)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return (self._most, least) if known else None
        return int(solver.value(added)), max(least, math.ceil(solver.best_objective_bound - 1e-6))


class _Model:
    """One CP-SAT model for both goals, kept warm by the last solution."""

    def __init__(self, kinds: Kinds, limits: Sequence[int], start: Sequence[Mapping[int, int]]) -> None:
        from ortools.sat.python import cp_model

        self._cp = cp_model
        self._kinds = kinds
        self._limits = limits
        self._model: Any = cp_model.CpModel()
        self._best: list[dict[int, int]] = [dict(circuit) for circuit in start]
        self._placed = [self._model.new_int_var(0, count, "") for _, count in kinds]
        self._rows: list[tuple[int, tuple[int, ...], Any]] = []
        self._cells: list[list[Any]] = []
        groups = Counter(limit for limit in limits if limit > 0)
        patterns = _all_patterns(kinds, groups)
        if patterns is None:
            self._by_circuit()
        else:
            self._by_pattern(groups, patterns)

    def _by_pattern(self, groups: Mapping[int, int], patterns: Sequence[tuple[int, tuple[int, ...]]]) -> None:
        self._rows = [(limit, p, self._model.new_int_var(0, groups[limit], "")) for limit, p in patterns]
        for limit, circuits in groups.items():
            self._model.add(sum(used for at, _, used in self._rows if at == limit) <= circuits)
        for index, placed in enumerate(self._placed):
            self._model.add(placed <= sum(p[index] * used for _, p, used in self._rows if p[index]))

    def _by_circuit(self) -> None:
        for limit in self._limits:
            cells = [self._model.new_int_var(0, min(count, limit // amps), "") for amps, count in self._kinds]
            self._model.add(sum(amps * x for (amps, _), x in zip(self._kinds, cells, strict=True)) <= limit)
            self._cells.append(cells)
        for index, placed in enumerate(self._placed):
            self._model.add(placed == sum(cells[index] for cells in self._cells))
        for circuit, cells in zip(self._best, self._cells, strict=True):
            for (amps, _), cell in zip(self._kinds, cells, strict=True):
                self._model.add_hint(cell, circuit.get(amps, 0))

    def maximise(self, weights: Sequence[int], *, exactly: int | None = None) -> tuple[int, int]:
        """The best sum of weight x units placed that was found, and a bound that none exceeds."""
        if exactly is not None:
            self._model.add(sum(self._placed) == exactly)
        self._model.maximize(sum(w * placed for w, placed in zip(weights, self._placed, strict=True)))
        solver = _solver(self._cp)
        status = solver.solve(self._model)
        worth = dict(zip((amps for amps, _ in self._kinds), weights, strict=True))
        bound = sum(w * count for w, (_, count) in zip(weights, self._kinds, strict=True))
        if status in (self._cp.OPTIMAL, self._cp.FEASIBLE):
            bound = min(bound, int(solver.best_objective_bound + 1e-6))
            found = self._read(solver)
            if _worth(found, worth) >= _worth(self._best, worth):
                self._best = found
        return _worth(self._best, worth), bound

    def circuits(self) -> list[dict[int, int]]:
        return self._best

    def _read(self, solver: Any) -> list[dict[int, int]]:
        circuits: list[dict[int, int]] = [{} for _ in self._limits]
        if self._cells:
            for circuit, cells in zip(circuits, self._cells, strict=True):
                for (amps, _), cell in zip(self._kinds, cells, strict=True):
                    if solver.value(cell):
                        circuit[amps] = solver.value(cell)
            return circuits
        free: dict[int, list[int]] = {}
        for index, limit in enumerate(self._limits):
            free.setdefault(limit, []).append(index)
        # Patterns cover at least what is placed; what they hold beyond it is left off.
        left = [solver.value(placed) for placed in self._placed]
        for limit, pattern, used in self._rows:
            for _ in range(solver.value(used)):
                circuit = circuits[free[limit].pop(0)]
                for index, (amps, _count) in enumerate(self._kinds):
                    take = min(pattern[index], left[index])
                    left[index] -= take
                    if take:
                        circuit[amps] = take
        return circuits


def _worth(circuits: Sequence[Mapping[int, int]], worth: Mapping[int, int]) -> int:
    return sum(worth[amps] * n for circuit in circuits for amps, n in circuit.items())
