"""
A problem as a few compact arrays, the form in which the kernels read it.

Nodes are the visits that may still move (0..m-1), then the places where crews start and end, then "nowhere", whose arcs
cost nothing: it stands for the end of a crew that need not return. Begun visits are folded into their crew: its first
node is where it is now, what it has cost and carried so far stands in its row.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from dispatch.planner.cost import late_cost, moved_cost, preference_cost
from dispatch.planner.fitting import Misfit
from dispatch.planner.frame import Frame
from dispatch.planner.problem import Visit
from dispatch.planner.schedule import Timed, departure, schedule

Ints = NDArray[np.int64]

# Later than any day, and far enough from the ends of the word that sums of such times stay whole.
FAR = 2**45
MUST_SERVE_CEILING = 2**59

# Columns of the visit table.
SERVICE, EARLY, LATE, DUE, LATE_RATE, PROMISED, MOVED_RATE, SKIP, SOFT, REMOTE, CHOICES = range(11)
VISIT_COLUMNS = 11
# Columns of the crew table.
ANCHOR, READY, END, UNTIL, LATEST, FIXED, DRIVE_LIMIT, DRIVEN, SPENT, BEGUN = range(10)
BREAK, BREAK_FROM, BREAK_LAST, BREAK_OWED, LOCKED, LIKE, IDLE, BOUND_FOR = range(10, 18)
CREW_COLUMNS = 18
# Rows of the load table: what fits, what begun visits took off the vehicle, their peak above it, their balance.
CAPACITY, TAKEN_OFF, PEAK, BALANCE = range(4)


class Day(NamedTuple):
    """The problem's arrays: ``m`` movable visits, ``c`` crews, ``k`` kinds of load, ``n`` nodes."""

    seconds: Ints  # n x n
    arc: Ints  # n x n, the price of driving
    arc_in: Ints  # its transpose, so that a visit's incoming arcs lie side by side
    visit: Ints  # m x VISIT_COLUMNS
    crew: Ints  # c x CREW_COLUMNS
    assign: Ints  # m x c, the preference price, -1 where the crew may not serve
    deliver: Ints  # m x k
    collect: Ints  # m x k
    load: Ints  # c x 4 x k
    near: NDArray[np.int32]  # 2 x m x q, neighbours by price alone and by price with unavoidable waiting
    able: NDArray[np.int32]  # the crews able to serve visit v stand at able[able_from[v]:able_from[v + 1]]
    able_from: NDArray[np.int32]
    overtime_rate: int


@dataclass(frozen=True)
class Compact:
    """The arrays with what is needed to come back: ``visits[i]`` is the problem's index of node ``i``."""

    frame: Frame
    day: Day
    visits: tuple[int, ...]
    node_of: dict[int, int]
    must_price: int


def compact_of(frame: Frame) -> Compact:
    """The compact form of a problem whose lookups are made."""
    movable = tuple(v for v in range(len(frame.visits)) if v not in frame.begun_by)
    node_of = {v: i for i, v in enumerate(movable)}
    kinds = _kinds(frame)
    depots, depot_node = _depots(frame, len(movable))
    places = [frame.visit_place[v] for v in movable] + depots
    seconds, arc = _matrices(frame, places)
    crew = np.array(
        [_crew_row(frame, c, depot_node, len(places)) for c in range(len(frame.crews))], dtype=np.int64
    ).reshape(-1, CREW_COLUMNS)
    assign = _assign(frame, movable)
    visit = np.array([_visit_row(frame.visits[v]) for v in movable], dtype=np.int64).reshape(-1, VISIT_COLUMNS)
    load = np.array([_load_rows(frame, c, kinds) for c in range(len(frame.crews))], dtype=np.int64).reshape(
        len(frame.crews), 4, len(kinds)
    )
    must_price = _must_price(frame, visit, crew, arc)
    _lock(frame, visit, crew, assign, node_of)
    for i, v in enumerate(movable):
        skip = frame.visits[v].skip
        visit[i, SKIP] = must_price if skip is None else skip
    visit[:, CHOICES] = (assign >= 0).sum(axis=1)
    anchors = crew[:, ANCHOR]
    if len(crew) and len(visit):
        visit[:, REMOTE] = arc[anchors][:, : len(movable)].min(axis=0)
    crew[:, LIKE] = _alike(crew, assign, load)
    able = [np.flatnonzero(row >= 0).astype(np.int32) for row in assign]
    day = Day(
        seconds=seconds,
        arc=arc,
        arc_in=np.ascontiguousarray(arc.T),
        visit=visit,
        crew=crew,
        assign=assign,
        deliver=_amounts([frame.visits[v].deliver for v in movable], kinds),
        collect=_amounts([frame.visits[v].collect for v in movable], kinds),
        load=load,
        near=_neighbours(frame, arc, seconds, visit),
        able=np.concatenate(able) if able else np.zeros(0, dtype=np.int32),
        able_from=np.cumsum([0] + [len(row) for row in able]).astype(np.int32),
        overtime_rate=frame.problem.prices.per_overtime_second,
    )
    return Compact(frame=frame, day=day, visits=movable, node_of=node_of, must_price=must_price)


def _kinds(frame: Frame) -> tuple[str, ...]:
    """Only what some visit moves can bind."""
    return tuple(sorted({key for visit in frame.visits for key in (*visit.deliver, *visit.collect)}))


def _amounts(loads: list[dict[str, int]], kinds: tuple[str, ...]) -> Ints:
    return np.array([[load.get(k, 0) for k in kinds] for load in loads], dtype=np.int64).reshape(len(loads), len(kinds))


def _depots(frame: Frame, first: int) -> tuple[list[int], dict[int, int]]:
    """The places where crews stand and end, each once, and the node of each."""
    places: dict[int, int] = {}
    for c in range(len(frame.crews)):
        end = frame.crew_end[c]
        for place in (_anchor_place(frame, c), *(() if end is None else (end,))):
            places.setdefault(place, first + len(places))
    return list(places), places


def _anchor_place(frame: Frame, c: int) -> int:
    begun = frame.begun[c]
    return frame.visit_place[begun[-1]] if begun else frame.crew_start[c]


def _matrices(frame: Frame, places: list[int]) -> tuple[Ints, Ints]:
    n = len(places) + 1
    all_seconds = np.array(frame.seconds, dtype=np.int64)
    all_meters = np.array(frame.meters, dtype=np.int64)
    seconds = np.zeros((n, n), dtype=np.int64)
    arc = np.zeros((n, n), dtype=np.int64)
    if places:
        grid = np.ix_(places, places)
        prices = frame.problem.prices
        seconds[:-1, :-1] = all_seconds[grid]
        arc[:-1, :-1] = prices.per_meter * all_meters[grid] + prices.per_driving_second * all_seconds[grid]
    return seconds, arc


def _visit_row(visit: Visit) -> list[int]:
    early, late = visit.window_s or (-FAR, FAR)
    late_rate = 0 if visit.due_s is None else visit.per_late_second
    moved_rate = 0 if visit.promised_s is None else visit.per_moved_second
    due = FAR if visit.due_s is None else visit.due_s
    soft = int(bool(late_rate)) + 2 * int(bool(moved_rate))
    return [visit.service_s, early, late, due, late_rate, visit.promised_s or 0, moved_rate, 0, soft, 0, 0]


def _crew_row(frame: Frame, c: int, depot_node: dict[int, int], nowhere: int) -> list[int]:
    crew = frame.crews[c]
    end = frame.crew_end[c]
    from_here = departure(frame, c)
    row = [0] * CREW_COLUMNS
    row[ANCHOR] = depot_node[_anchor_place(frame, c)]
    row[READY] = from_here.reach_s
    row[END] = nowhere if end is None else depot_node[end]
    row[UNTIL], row[LATEST], row[FIXED] = crew.until_s, crew.at_latest_s, crew.fixed
    row[DRIVE_LIMIT] = FAR if crew.driving_limit_s is None else crew.driving_limit_s
    row[DRIVEN], row[SPENT] = _so_far(frame, c)
    row[BEGUN] = int(bool(crew.begun))
    rule = None if crew.break_taken is not None else crew.break_rule
    if rule is not None:
        # A break not yet had cannot start before now, even in the middle of a drive that began earlier.
        row[BREAK], row[BREAK_FROM], row[BREAK_OWED] = rule.seconds, max(rule.from_s, from_here.ready_s), rule.until_s
        row[BREAK_LAST] = rule.until_s if row[BREAK_FROM] <= rule.until_s else -FAR
    row[LOCKED] = int(crew.under_way is not None)
    idle = schedule(frame, c, frame.begun[c])
    row[IDLE] = idle.cost if isinstance(idle, Timed) else row[SPENT]
    return row


def _so_far(frame: Frame, c: int) -> tuple[int, int]:
    """Seconds driven to the last begun visit, and what the begun visits cost, with the crew's fixed price."""
    crew = frame.crews[c]
    if not crew.begun:
        return 0, 0
    at, seconds, meters, spent = frame.crew_start[c], 0, 0, crew.fixed
    for done, v in zip(crew.begun, frame.begun[c], strict=True):
        to, visit = frame.visit_place[v], frame.visits[v]
        seconds, meters, at = seconds + frame.seconds[at][to], meters + frame.meters[at][to], to
        spent += late_cost(visit, done.start_s) + moved_cost(visit, done.start_s) + preference_cost(visit, crew)
    prices = frame.problem.prices
    return seconds, spent + prices.per_meter * meters + prices.per_driving_second * seconds


def _load_rows(frame: Frame, c: int, kinds: tuple[str, ...]) -> list[list[int]]:
    crew = frame.crews[c]
    taken_off, peak, balance = ([0] * len(kinds) for _ in range(3))
    for v in frame.begun[c]:
        visit = frame.visits[v]
        for k, key in enumerate(kinds):
            taken_off[k] += visit.deliver.get(key, 0)
            balance[k] += visit.collect.get(key, 0) - visit.deliver.get(key, 0)
            peak[k] = max(peak[k], balance[k])
    return [[crew.capacity.get(key, 0) for key in kinds], taken_off, peak, balance]


def _assign(frame: Frame, movable: tuple[int, ...]) -> Ints:
    table = np.full((len(movable), len(frame.crews)), -1, dtype=np.int64)
    for c, crew in enumerate(frame.crews):
        skills, states = set(crew.skills), set(crew.states)
        for i, v in enumerate(movable):
            visit = frame.visits[v]
            driver = frame.under_way_by.get(v)
            if driver is not None and driver != c:
                continue
            if visit.only is not None and crew.id not in visit.only:
                continue
            if skills.issuperset(visit.skills) and (visit.state is None or visit.state in states):
                table[i, c] = preference_cost(visit, crew)
    return table


def _lock(frame: Frame, visit: Ints, crew: Ints, assign: Ints, node_of: dict[int, int]) -> None:
    """Bind every crew under way to its next stop; one that cannot hold it any more takes nothing else either."""
    for c, to in enumerate(frame.under_way):
        if to is None:
            continue
        crew[c, BOUND_FOR] = node_of[to]
        visit[node_of[to], EARLY] = max(visit[node_of[to], EARLY], departure(frame, c).ready_s)
        if isinstance(schedule(frame, c, (*frame.begun[c], to)), Misfit):
            assign[:, c] = -1


def _must_price(frame: Frame, visit: Ints, crew: Ints, arc: Ints) -> int:
    """A price above whatever one more visit could ever cost, so that must-serve visits are left out last."""
    starts = visit[:, EARLY] > -FAR
    day_s = int(crew[:, LATEST].max(initial=0)) - int(visit[starts, EARLY].min(initial=0))
    day_s = max(day_s, 2 * int(crew[:, LATEST].max(initial=0) - crew[:, READY].min(initial=0)), 86_400)
    soft = int((visit[:, LATE_RATE].astype(object) + visit[:, MOVED_RATE].astype(object)).sum()) * day_s
    over = len(crew) * frame.problem.prices.per_overtime_second * day_s
    prefer = sum(max(v.prefer.values(), default=0) + (v.skip or 0) for v in frame.visits)
    fixed = sum(c.fixed for c in frame.crews)
    ceiling = (len(visit) + 2 * len(crew)) * int(arc.max(initial=0)) + soft + over + prefer + fixed + 1
    return min(ceiling, MUST_SERVE_CEILING // max(1, len(visit)))


def _alike(crew: Ints, assign: Ints, load: Ints) -> list[int]:
    """Crews that no empty route can tell apart share a number, so that one stands for all."""
    seen: dict[bytes, int] = {}
    return [
        seen.setdefault(crew[c].tobytes() + assign[:, c].tobytes() + load[c].tobytes(), c) for c in range(len(crew))
    ]


def _neighbours(frame: Frame, arc: Ints, seconds: Ints, visit: Ints) -> NDArray[np.int32]:
    """
    Two orders of neighbours for every visit: by the price of driving, and with the waiting that no order avoids.

    The second is the relatedness of Vidal et al. (2013), "A hybrid genetic algorithm with adaptive diversity
    management for a large class of vehicle routing problems with time-windows", section 4.
    """
    m = len(visit)
    prices = frame.problem.prices
    if m == 0:
        return np.zeros((2, 0, 0), dtype=np.int32)
    drive = np.minimum(arc[:m, :m], arc[:m, :m].T).astype(float)
    early, late = visit[:, EARLY].astype(float), visit[:, LATE].astype(float)
    reach = visit[:, SERVICE, None] + seconds[:m, :m]
    waiting = np.maximum(0.0, early[None, :] - reach - late[:, None])
    a_second = max(1.0, float(prices.per_driving_second), float(drive.mean() / max(1.0, seconds[:m, :m].mean())))
    apart = drive + 0.2 * a_second * np.minimum(waiting, waiting.T)
    keep = min(m, 120)
    tie = np.arange(m)
    return np.stack(
        [
            np.array([np.lexsort((tie, row))[:keep] for row in table], dtype=np.int32).reshape(m, keep)
            for table in (drive, apart)
        ]
    )
