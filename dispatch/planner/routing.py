"""
OR-Tools' routing model of the same day: the planner's second engine, a baseline, and a cross-check of the cost.

Transit matrices only, since a callback into Python costs more than the search. The break is taken out of the clock:
the model's time stands still for the length of the commonest break, for all crews at once, and ``schedule`` then puts
the real break into the best gap. That can lose plans but never invents any: each route is timed and checked afterwards.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from dispatch.planner.compact import (
    ANCHOR,
    BALANCE,
    BEGUN,
    BOUND_FOR,
    BREAK,
    BREAK_FROM,
    BREAK_LAST,
    CAPACITY,
    DRIVE_LIMIT,
    DRIVEN,
    DUE,
    EARLY,
    END,
    FAR,
    FIXED,
    LATE,
    LATE_RATE,
    LATEST,
    LOCKED,
    MOVED_RATE,
    PEAK,
    PROMISED,
    READY,
    SERVICE,
    SKIP,
    TAKEN_OFF,
    UNTIL,
    Compact,
    Day,
    Ints,
)

# Beyond what any schedule of a day reaches; the model's times are counted from the earliest crew's start.
LATEST_MODEL_S = 4 * 86_400
LONGEST_S = 20.0


@dataclass(frozen=True)
class Model:
    """The model with its parts; ``zero_s`` is the plan's time at the model's zero."""

    compact: Compact
    manager: Any
    routing: Any
    clock: Any
    zero_s: int
    frozen: Clock

    @property
    def day(self) -> Day:
        return self.compact.day


@dataclass(frozen=True)
class Clock:
    """The plan's time on a clock that stands still for ``long_s`` from ``stands_s`` on: the break of most crews."""

    stands_s: int
    long_s: int

    def at(self, t: int) -> int:
        t = max(-LATEST_MODEL_S // 2, min(LATEST_MODEL_S // 2, t))
        return t if t <= self.stands_s else max(self.stands_s, t - self.long_s)

    def end_of(self, row: Ints, t: int) -> int:
        """A crew's end; one whose break falls elsewhere has that much less time."""
        other = row[BREAK] > self.long_s or not row[BREAK_FROM] <= self.stands_s <= row[BREAK_LAST]
        return self.at(t) - (int(row[BREAK]) if row[BREAK] and other else 0)


def clock_of(day: Day) -> Clock:
    """The clock that stands still in the middle of the commonest break; one that never stands if no crew has any."""
    rules = Counter((int(r[BREAK]), int(r[BREAK_FROM]), int(r[BREAK_LAST])) for r in day.crew if r[BREAK])
    if not rules:
        return Clock(FAR, 0)
    (long, from_s, last), _ = rules.most_common(1)[0]
    return Clock((from_s + last) // 2, long) if last >= from_s else Clock(FAR, 0)


def build(compact: Compact) -> Model:
    """The whole problem as OR-Tools sees it, with one start and one end node for each crew."""
    from ortools.constraint_solver import pywrapcp

    day = compact.day
    m, crews = len(day.visit), len(day.crew)
    manager = pywrapcp.RoutingIndexManager(
        m + 2 * crews, crews, [m + 2 * c for c in range(crews)], [m + 2 * c + 1 for c in range(crews)]
    )
    routing = pywrapcp.RoutingModel(manager)
    node = [*range(m), *(int(day.crew[c, column]) for c in range(crews) for column in (ANCHOR, END))]
    service = [int(s) for s in day.visit[:, SERVICE]] + [0] * (2 * crews)
    seconds = day.seconds[node][:, node]
    arc = day.arc[node][:, node]
    ahead = routing.RegisterTransitMatrix((seconds + [[s] for s in service]).tolist())
    stands = clock_of(day)
    zero = min(stands.at(int(day.crew[:, READY].min(initial=0))), 0)
    routing.AddDimension(ahead, LATEST_MODEL_S, LATEST_MODEL_S, False, "clock")
    model = Model(compact, manager, routing, routing.GetDimensionOrDie("clock"), zero, stands)
    drive = routing.RegisterTransitMatrix(seconds.tolist())
    limits = [min(int(r[DRIVE_LIMIT] - r[DRIVEN]), LATEST_MODEL_S) for r in day.crew]
    routing.AddDimensionWithVehicleCapacity(drive, 0, [max(0, x) for x in limits], True, "drive")
    for c in range(crews):
        _crew(model, c, routing.RegisterTransitMatrix(_priced(day, c, arc, m)))
    for v in range(m):
        _visit(model, v)
    for k in range(day.load.shape[2]):
        _load(model, k)
    return model


def _priced(day: Day, c: int, arc: Any, m: int) -> list[list[int]]:
    """Driving and the crew's preference price of the visit an arc leads to."""
    table = arc.copy()
    table[:, :m] += day.assign[:, c].clip(min=0)
    rows: list[list[int]] = table.tolist()
    return rows


def _crew(model: Model, c: int, priced: int) -> None:
    routing, clock, row = model.routing, model.clock, model.day.crew[c]
    routing.SetArcCostEvaluatorOfVehicle(priced, c)
    routing.SetFixedCostOfVehicle(0 if row[BEGUN] else int(row[FIXED]), c)
    start, end = routing.Start(c), routing.End(c)
    clock.CumulVar(start).SetValue(model.frozen.at(int(row[READY])) - model.zero_s)
    clock.CumulVar(end).SetMax(model.frozen.end_of(row, int(row[LATEST])) - model.zero_s)
    clock.SetCumulVarSoftUpperBound(
        end, max(0, model.frozen.end_of(row, int(row[UNTIL])) - model.zero_s), model.day.overtime_rate
    )
    routing.AddVariableMinimizedByFinalizer(clock.CumulVar(end))
    if row[BEGUN]:
        routing.SetVehicleUsedWhenEmpty(True, c)
    if row[LOCKED] and model.day.assign[row[BOUND_FOR], c] >= 0:
        routing.NextVar(start).SetValue(model.manager.NodeToIndex(int(row[BOUND_FOR])))


def _visit(model: Model, v: int) -> None:
    routing, clock, day = model.routing, model.clock, model.day
    at = model.manager.NodeToIndex(v)
    able = [c for c in range(len(day.crew)) if day.assign[v, c] >= 0]
    # The binding of SetAllowedVehiclesForIndex takes no sequence at all in OR-Tools 9.15.
    routing.VehicleVar(at).SetValues([-1, *able])
    routing.AddDisjunction([at], int(day.visit[v, SKIP]))
    row = day.visit[v]
    early = max(0, model.frozen.at(int(row[EARLY])) - model.zero_s)
    late = max(early, model.frozen.at(int(row[LATE])) - model.zero_s)
    clock.CumulVar(at).SetRange(early, late)
    if row[LATE_RATE] > 0:
        clock.SetCumulVarSoftUpperBound(at, max(0, model.frozen.at(int(row[DUE])) - model.zero_s), int(row[LATE_RATE]))
    if row[MOVED_RATE] > 0:
        promised = max(0, model.frozen.at(int(row[PROMISED])) - model.zero_s)
        clock.SetCumulVarSoftLowerBound(at, promised, int(row[MOVED_RATE]))
        if row[LATE_RATE] == 0:
            clock.SetCumulVarSoftUpperBound(at, promised, int(row[MOVED_RATE]))


def _load(model: Model, k: int) -> None:
    """What is aboard, and what was collected: equal at the end, so that nothing collected is delivered again."""
    routing, day = model.routing, model.day
    tail = [0] * (2 * len(day.crew))
    net = routing.RegisterUnaryTransitVector([*(day.collect[:, k] - day.deliver[:, k]).tolist(), *tail])
    taken = routing.RegisterUnaryTransitVector([*day.collect[:, k].tolist(), *tail])
    # What begun visits left aboard rides along to the end.
    room = [
        max(0, int(day.load[c, CAPACITY, k] - day.load[c, BALANCE, k] - day.load[c, TAKEN_OFF, k]))
        for c in range(len(day.crew))
    ]
    routing.AddDimensionWithVehicleCapacity(net, 0, room, False, f"aboard {k}")
    routing.AddDimensionWithVehicleCapacity(taken, 0, room, True, f"collected {k}")
    aboard, collected = routing.GetDimensionOrDie(f"aboard {k}"), routing.GetDimensionOrDie(f"collected {k}")
    for c in range(len(day.crew)):
        end = routing.End(c)
        routing.solver().Add(aboard.CumulVar(end) == collected.CumulVar(end))
        spare = int(day.load[c, CAPACITY, k] - day.load[c, TAKEN_OFF, k] - day.load[c, PEAK, k])
        aboard.CumulVar(routing.Start(c)).SetMax(max(0, min(room[c], spare)))


def routes(
    compact: Compact,
    *,
    seconds: float | None,
    solutions: int | None,
    on_solution: Callable[[list[list[int]], int], None] | None = None,
) -> tuple[list[list[int]], int] | None:
    """
    The engine's routes as nodes for each crew, and its own objective; null where it found none.

    :param solutions: stop after so many improved solutions, for a result that can be repeated.
    :param on_solution: told every solution as it is found, with its objective.
    """
    from ortools.constraint_solver import pywrapcp, routing_enums_pb2

    model = build(compact)
    asked = pywrapcp.DefaultRoutingSearchParameters()
    asked.first_solution_strategy = routing_enums_pb2.FirstSolutionStrategy.PARALLEL_CHEAPEST_INSERTION
    asked.local_search_metaheuristic = routing_enums_pb2.LocalSearchMetaheuristic.GUIDED_LOCAL_SEARCH
    # A count of solutions may never be reached on a tiny day; the clock then ends what has long been over.
    asked.time_limit.FromMilliseconds(max(1, int(1000 * (LONGEST_S if seconds is None else seconds))))
    if solutions is not None:
        asked.solution_limit = max(1, solutions)
    if on_solution is not None:
        model.routing.AddAtSolutionCallback(lambda: on_solution(*_now(model)))
    found = model.routing.SolveWithParameters(asked)
    if found is None:
        return None
    crews = range(len(model.day.crew))
    return [_stops(model, found.Value, c) for c in crews], int(found.ObjectiveValue())


def _now(model: Model) -> tuple[list[list[int]], int]:
    """The solution that the search stands at, asked in the midst of it."""
    crews = range(len(model.day.crew))
    return [_stops(model, lambda var: var.Value(), c) for c in crews], int(model.routing.CostVar().Max())


def _stops(model: Model, value: Callable[[Any], int], c: int) -> list[int]:
    nodes: list[int] = []
    at = value(model.routing.NextVar(model.routing.Start(c)))
    while not model.routing.IsEnd(at):
        nodes.append(model.manager.IndexToNode(at))
        at = value(model.routing.NextVar(at))
    return nodes


def orders(compact: Compact, nodes: Sequence[Sequence[int]]) -> list[list[int]]:
    """Rows of nodes as visits of the problem, begun ones first."""
    frame = compact.frame
    return [[*frame.begun[c], *(compact.visits[v] for v in row)] for c, row in enumerate(nodes)]
