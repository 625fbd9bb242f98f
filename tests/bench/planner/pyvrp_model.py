"""
The same day as PyVRP sees it, as strongly as it can be said there: the opponent of the comparison.

Able crews by profile (forbidden arcs cost too much), clock overtime by a start that cannot be late, emergencies as one
group of mutually exclusive windows each, paid less the later; the commonest break is taken out of the clock. Its own
cost holds constants and is never compared: the routes are timed, priced and judged like any other plan.
"""

from __future__ import annotations

from time import perf_counter
from typing import Any

import numpy as np
from pyvrp import (
    Client,
    ClientGroup,
    CostEvaluator,
    Depot,
    IteratedLocalSearch,
    IteratedLocalSearchCallbacks,
    IteratedLocalSearchParams,
    Location,
    ProblemData,
    Solution,
    SolveParams,
    VehicleType,
    solve,
)
from pyvrp.stop import MaxRuntime

from dispatch.planner.compact import (
    ANCHOR,
    CAPACITY,
    DUE,
    EARLY,
    END,
    FIXED,
    LATE,
    LATE_RATE,
    LATEST,
    READY,
    SERVICE,
    SKIP,
    UNTIL,
    Compact,
)
from dispatch.planner.routing import clock_of

# PyVRP's own limit; lower ones gave worse first plans.
FORBIDDEN = 2**44
LATE_STEPS_S = (0, 600, 1200, 1800, 2700, 3600, 5400, 7200, 10_800, 14_400)


class _Noting(IteratedLocalSearchCallbacks):
    """Every better plan as it comes, with the time."""

    def __init__(self) -> None:
        self.found: list[tuple[float, int, Solution]] = []

    def on_start(self, ils: IteratedLocalSearch) -> None:
        self._note(ils.initial_solution)

    def on_best(self, best: Solution) -> None:
        self._note(best)

    def _note(self, best: Solution) -> None:
        if best.is_feasible():
            self.found.append(
                (perf_counter(), CostEvaluator([0.0] * len(best.excess_load()), 0.0, 0.0).cost(best), best)
            )


def improvements(compact: Compact, seconds: float, seed: int) -> list[tuple[float, int, list[list[int]]]]:
    """When (by ``perf_counter``), at what cost of its own, and the nodes for each crew, of every better plan."""
    until = perf_counter() + seconds
    data, members = _data(compact)
    noting = _Noting()
    solve(
        data,
        MaxRuntime(max(0.01, until - perf_counter())),
        seed=seed,
        display=False,
        collect_stats=False,
        params=SolveParams(ils=IteratedLocalSearchParams(callbacks=noting)),
    )
    return [(at, cost, _nodes(compact, members, best)) for at, cost, best in noting.found]


def routes(compact: Compact, seconds: float, seed: int) -> list[list[int]]:
    """Nodes for each crew, found in so many seconds; nobody has any if no plan held."""
    found = improvements(compact, seconds, seed)
    return found[-1][2] if found else [[] for _ in compact.day.crew]


def _nodes(compact: Compact, members: list[int], best: Solution) -> list[list[int]]:
    nodes: list[list[int]] = [[] for _ in compact.day.crew]
    for route in best.routes():
        nodes[route.vehicle_type()] = [members[stop.idx] for stop in route if stop.is_client()]
    return nodes


def _data(compact: Compact) -> tuple[ProblemData, list[int]]:
    day, clock = compact.day, clock_of(compact.day)
    places = sorted({int(row[column]) for row in day.crew for column in (ANCHOR, END)})
    clients: list[Any] = []
    groups: list[Any] = []
    members: list[int] = []
    at = len(places)
    for v, row in enumerate(day.visit):
        early, late = max(0, clock.at(int(row[EARLY]))), clock.at(min(int(row[LATE]), 200_000))
        common = {
            "delivery": [int(x) for x in day.deliver[v]],
            "pickup": [int(x) for x in day.collect[v]],
            "service_duration": int(row[SERVICE]),
            "required": False,
        }
        if row[LATE_RATE] == 0:
            clients.append(Client(at + len(clients), tw_early=early, tw_late=late, prize=int(row[SKIP]), **common))
            members.append(v)
            continue
        numbers = []
        for x in LATE_STEPS_S:
            prize = int(row[SKIP]) - int(row[LATE_RATE]) * x
            until = min(late, clock.at(int(row[DUE]) + x))
            if prize > 0 and until >= early:
                numbers.append(len(clients))
                clients.append(
                    Client(at + len(clients), tw_early=early, tw_late=until, prize=prize, group=len(groups), **common)
                )
                members.append(v)
        groups.append(ClientGroup(numbers, required=False))
    kinds = sorted({tuple(column) for column in (day.assign >= 0).T.tolist()})
    node = np.array([*places, *members])
    arc, seconds = day.arc[node][:, node], day.seconds[node][:, node]
    distance, duration = [], []
    for able in kinds:
        closed = np.array([False] * len(places) + [not able[v] for v in members])
        table, drive = arc.copy(), seconds.copy()
        table[:, closed] = table[closed, :] = FORBIDDEN
        drive[:, closed] = drive[closed, :] = FORBIDDEN
        for matrix in (table, drive):
            np.fill_diagonal(matrix, 0)
        distance.append(table)
        duration.append(drive)
    vehicles = []
    for c, row in enumerate(day.crew):
        from_s, until, latest = (clock.at(int(row[READY])), *(clock.end_of(row, int(row[x])) for x in (UNTIL, LATEST)))
        vehicles.append(
            VehicleType(
                capacity=[int(x) for x in day.load[c, CAPACITY]],
                start_depot=places.index(int(row[ANCHOR])),
                end_depot=places.index(int(row[END])),
                fixed_cost=int(row[FIXED]),
                tw_early=from_s,
                tw_late=latest,
                start_late=from_s,
                shift_duration=until - from_s,
                max_overtime=latest - until,
                unit_overtime_cost=day.overtime_rate,
                unit_distance_cost=1,
                profile=kinds.index(tuple((day.assign[:, c] >= 0).tolist())),
            )
        )
    return ProblemData(
        [Location(0, 0) for _ in node],
        clients,
        [Depot(i) for i in range(len(places))],
        vehicles,
        distance,
        duration,
        groups,
    ), members
