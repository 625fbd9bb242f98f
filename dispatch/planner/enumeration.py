"""
Every route worth having on a small day: for each crew and set of visits, the cheapest order.

Level by level over (visits, last stop, break had or owed), keeping of each only what no other beats in time and cost.
Rules as in ``kernels``. Where moved promises have a price it may pay to wait, and being earlier beats nothing: then
every order is kept, and each is priced as a whole at its end.
"""

from __future__ import annotations

from dataclasses import dataclass
from time import perf_counter

import numpy as np
from numpy.typing import NDArray

from dispatch.planner.columns import Columns
from dispatch.planner.compact import (
    ANCHOR,
    BALANCE,
    BEGUN,
    BOUND_FOR,
    BREAK,
    BREAK_FROM,
    BREAK_LAST,
    BREAK_OWED,
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
    LIKE,
    LOCKED,
    MOVED_RATE,
    PEAK,
    READY,
    SERVICE,
    SPENT,
    TAKEN_OFF,
    UNTIL,
    Day,
    Ints,
)
from dispatch.planner.hours import IMPOSSIBLE, NEVER, soft_price

MOST_VISITS = 25
MOST_LABELS = 300_000
# With promises there are as many partial routes as orders: beyond this a try would only take time from the search.
MOST_PROMISED_VISITS = 10
MOST_PROMISED_LABELS = 60_000
MOST_COLUMNS = 600_000


@dataclass(frozen=True)
class Labels:
    """Partial routes of one length: the visits as a bit mask, in order, and what they came to."""

    mask: Ints
    order: NDArray[np.int8]  # n x length
    had: NDArray[np.bool_]
    leave: Ints
    cost: Ints
    drive: Ints
    peak: Ints  # n x k: the highest balance of loads so far

    def __len__(self) -> int:
        return len(self.mask)

    def taken(self, which: NDArray[np.intp] | NDArray[np.bool_]) -> Labels:
        return Labels(
            self.mask[which],
            self.order[which],
            self.had[which],
            self.leave[which],
            self.cost[which],
            self.drive[which],
            self.peak[which],
        )


def every_route(day: Day, deadline: float | None = None) -> Columns | None:
    """The cheapest route for every crew (one of each kind) and feasible set of visits; null if there are too many."""
    m = len(day.visit)
    promised = m > 0 and bool(day.visit[:, MOVED_RATE].max() > 0)
    if m > (MOST_PROMISED_VISITS if promised else MOST_VISITS):
        return None
    most = MOST_PROMISED_LABELS if promised else MOST_LABELS
    longer, closed = (_longer_in_any_order, _closed_in_any_order) if promised else (_longer, _closed)
    crews: list[int] = []
    costs: list[Ints] = []
    orders: list[NDArray[np.int8]] = []
    for c in range(len(day.crew)):
        if day.crew[c, LIKE] != c:
            continue
        labels = _first(day, c)
        while len(labels):
            if len(labels) > most or sum(map(len, costs)) > MOST_COLUMNS:
                return None
            if deadline is not None and perf_counter() > deadline:
                return None
            if labels.order.shape[1]:
                cost, order = closed(day, c, labels)
                crews += [c] * len(cost)
                costs.append(cost)
                orders += list(order)
            labels = longer(day, c, labels)
    lengths = np.array([0, *(len(order) for order in orders)], dtype=np.int64)
    return Columns(
        crew=np.array(crews, dtype=np.int32),
        cost=np.concatenate(costs) if costs else np.zeros(0, dtype=np.int64),
        start=np.cumsum(lengths),
        stops=np.concatenate(orders).astype(np.int32) if orders else np.zeros(0, dtype=np.int32),
    )


def _first(day: Day, c: int) -> Labels:
    crew = day.crew[c]
    k = day.load.shape[2]
    begin = Labels(
        mask=np.zeros(1, dtype=np.int64),
        order=np.zeros((1, 0), dtype=np.int8),
        had=np.array([crew[BREAK] == 0]),
        leave=crew[READY : READY + 1].copy(),
        cost=crew[SPENT : SPENT + 1] + (0 if crew[BEGUN] else crew[FIXED]),
        drive=crew[DRIVEN : DRIVEN + 1].copy(),
        peak=day.load[c, PEAK].reshape(1, k).copy(),
    )
    if not crew[LOCKED]:
        return begin
    if day.assign[crew[BOUND_FOR], c] < 0:
        return begin.taken(np.zeros(0, dtype=np.intp))
    return _dominant(_with(day, c, begin, int(crew[BOUND_FOR])))


def _longer(day: Day, c: int, labels: Labels) -> Labels:
    return _dominant(_with_any(day, c, labels))


def _longer_in_any_order(day: Day, c: int, labels: Labels) -> Labels:
    """Every order once with the break owed and once with it had, each at its soonest."""
    longer = _with_any(day, c, labels)
    keys = (longer.leave, longer.had, *longer.order.T)
    at = np.lexsort(keys)
    new = np.ones(len(at), dtype=bool)
    new[1:] = np.any([key[at][1:] != key[at][:-1] for key in keys[1:]], axis=0)
    return longer.taken(at[new])


def _with_any(day: Day, c: int, labels: Labels) -> Labels:
    able = [v for v in range(len(day.visit)) if day.assign[v, c] >= 0]
    parts = [_with(day, c, labels.taken((labels.mask >> v) & 1 == 0), v) for v in able]
    return _joined(parts) if parts else labels.taken(np.zeros(0, dtype=np.intp))


def _with(day: Day, c: int, labels: Labels, v: int) -> Labels:
    """Every label with ``v`` as its next stop, the break had on the way or not, where that holds."""
    crew, row = day.crew[c], day.visit[v]
    at = _at(day, c, labels)
    drive = day.seconds[at, v]
    rested = np.maximum(labels.leave + drive, crew[BREAK_FROM]) + crew[BREAK]
    can_rest = ~labels.had & (labels.leave <= crew[BREAK_LAST])
    found = []
    for arrive, had, allowed in (
        (labels.leave + drive, labels.had, np.ones(len(labels), dtype=bool)),
        (rested, np.ones(len(labels), dtype=bool), can_rest),
    ):
        start = np.maximum(arrive, row[EARLY])
        keep = np.flatnonzero(allowed & (start <= row[LATE]) & (start + row[SERVICE] <= crew[LATEST]))
        late = np.maximum(0, start[keep] - row[DUE]) * row[LATE_RATE]
        balance = _sums(day, labels.mask[keep], day.collect - day.deliver) + day.load[c, BALANCE]
        balance += day.collect[v] - day.deliver[v]
        peak = np.maximum(labels.peak[keep], balance)
        aboard = _sums(day, labels.mask[keep], day.deliver) + day.deliver[v] + day.load[c, TAKEN_OFF]
        fits = (peak + aboard <= day.load[c, CAPACITY]).all(axis=1)
        kept = keep[fits]
        found.append(
            Labels(
                mask=labels.mask[kept] | (1 << v),
                order=np.hstack([labels.order[kept], np.full((len(kept), 1), v, dtype=np.int8)]),
                had=had[kept],
                leave=start[kept] + row[SERVICE],
                cost=labels.cost[kept] + late[fits] + day.arc[at[kept], v] + day.assign[v, c],
                drive=labels.drive[kept] + drive[kept],
                peak=peak[fits],
            )
        )
    return _joined(found)


def _at(day: Day, c: int, labels: Labels) -> NDArray[np.intp]:
    if labels.order.shape[1]:
        return labels.order[:, -1].astype(np.intp)
    return np.full(len(labels), day.crew[c, ANCHOR], dtype=np.intp)


def _sums(day: Day, mask: Ints, amounts: Ints) -> Ints:
    """The sum of ``amounts`` over the visits of every mask."""
    bits = (mask[:, None] >> np.arange(len(day.visit))) & 1
    total: Ints = bits @ amounts
    return total


def _joined(parts: list[Labels]) -> Labels:
    return Labels(
        mask=np.concatenate([p.mask for p in parts]),
        order=np.concatenate([p.order for p in parts]),
        had=np.concatenate([p.had for p in parts]),
        leave=np.concatenate([p.leave for p in parts]),
        cost=np.concatenate([p.cost for p in parts]),
        drive=np.concatenate([p.drive for p in parts]),
        peak=np.concatenate([p.peak for p in parts]),
    )


def _dominant(labels: Labels) -> Labels:
    """Without those that another of the same visits, last stop, break, drive and peak beats in time and in cost."""
    if not len(labels):
        return labels
    keys = (*labels.peak.T, labels.drive, labels.had, labels.order[:, -1], labels.mask)
    order = np.lexsort((labels.cost, labels.leave, *keys))
    new = np.ones(len(order), dtype=bool)
    new[1:] = np.any([key[order][1:] != key[order][:-1] for key in keys], axis=0)
    # One running minimum for all groups: each later group starts below everything in the ones before it.
    cost = np.unique(labels.cost[order], return_inverse=True)[1] + (np.cumsum(new)[-1] - np.cumsum(new)) * len(order)
    before = np.concatenate([[np.iinfo(np.int64).max], np.minimum.accumulate(cost)[:-1]])
    return labels.taken(order[new | (cost < before)])


def _closed(day: Day, c: int, labels: Labels) -> tuple[Ints, NDArray[np.int8]]:
    """The labels driven home, of each set of visits the cheapest: whole cost, and order."""
    crew = day.crew[c]
    at = _at(day, c, labels)
    home = labels.leave + day.seconds[at, crew[END]]
    rested = np.maximum(home, crew[BREAK_FROM]) + crew[BREAK]
    rested[labels.leave > crew[BREAK_LAST]] = FAR
    end = np.where(labels.had, home, np.where(home <= crew[BREAK_OWED], home, rested))
    drive = labels.drive + day.seconds[at, crew[END]]
    keep = np.flatnonzero((end <= crew[LATEST]) & (drive <= crew[DRIVE_LIMIT]))
    over = np.maximum(0, end[keep] - crew[UNTIL]) * day.overtime_rate
    cost = labels.cost[keep] + day.arc[at[keep], crew[END]] + over
    return _cheapest_by_set(labels.taken(keep), cost)


def _closed_in_any_order(day: Day, c: int, labels: Labels) -> tuple[Ints, NDArray[np.int8]]:
    """As ``_closed``, each order at its best starts."""
    crew, stops = day.crew[c], labels.order.shape[1]
    drive = labels.drive + day.seconds[labels.order[:, -1], crew[END]]
    within = labels.taken(drive <= crew[DRIVE_LIMIT])
    row = np.zeros(stops + 2, dtype=np.int32)
    row[0], row[-1] = crew[ANCHOR], crew[END]
    cost = np.zeros(len(within), dtype=np.int64)
    holds = np.ones(len(within), dtype=bool)
    for j, order in enumerate(within.order):
        row[1:-1] = order
        price = soft_price(day.seconds, day.visit, day.crew, row, c, stops, day.overtime_rate, NEVER)
        holds[j] = price != IMPOSSIBLE
        arcs = day.arc[row[:-1], row[1:]].sum() + day.assign[order, c].sum()
        cost[j] = crew[SPENT] + (0 if crew[BEGUN] else crew[FIXED]) + arcs + price
    return _cheapest_by_set(within.taken(holds), cost[holds])


def _cheapest_by_set(labels: Labels, cost: Ints) -> tuple[Ints, NDArray[np.int8]]:
    order = np.lexsort((cost, labels.mask))
    mask = labels.mask[order]
    first = np.ones(len(order), dtype=bool)
    first[1:] = mask[1:] != mask[:-1]
    return cost[order][first], labels.order[order][first]
