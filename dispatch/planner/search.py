"""
One search: a start, then ruin and recreate while the clock or the count allows, cooling as it goes.

The same compact problem, start, seed and number of iterations give the same routes, on any machine.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from time import perf_counter

import numpy as np

from dispatch.planner.anneal import AVERAGE_REMOVED, Best, anneal, keep
from dispatch.planner.compact import CHOICES, EARLY, END, LATE, MOVED_RATE, SKIP, Compact
from dispatch.planner.divided import Part, rows_of
from dispatch.planner.kernels import STOPS, empty_state, insert, most_stops, refresh, refresh_all
from dispatch.planner.places import cheapest
from dispatch.planner.pooling import empty_pool, pour
from dispatch.planner.work import work_of

# Start and end temperature in units of the mean arc, so that they mean the same in dollars, cents or metres.
HOT, COLD = 1.0, 0.01
# From a plan that is good already, a hot start would only walk away from it.
WARM = 0.1
# A staged search has cooled down after each of these shares of its time, so that it has a good plan early, and then
# begins again from its best at a lower heat; it ends a little dearer than one that cools slowly all the way.
STAGES = (1 / 27, 1 / 9, 1 / 3, 1.0)
AGAIN = 0.3
# A step at one temperature takes about this long, so that a search answers its deadline.
STEP_S = 0.02
STEPS = 200
FIRST_ROUNDS = 20

Orders = list[list[int]]
# A share of the way that is done, and how many rounds to do now.
Step = Callable[[float, int], None]


def by_clock(step: Step, begun_at: float, deadline: float) -> None:
    """Steps of about ``STEP_S`` until ``perf_counter()`` reaches the deadline."""
    rounds, now = FIRST_ROUNDS, perf_counter()
    while now < deadline:
        step((now - begun_at) / (deadline - begun_at), rounds)
        before, now = now, perf_counter()
        wanted = min(STEP_S, max(1e-4, (deadline - now) / 2))
        rounds = max(1, min(4 * rounds, int(rounds * wanted / max(1e-6, now - before))))


def by_count(step: Step, rounds: int, done: int = 0) -> None:
    """Steps up to a number of rounds."""
    size = max(1, rounds // STEPS)
    while done < rounds:
        count = min(size, rounds - done)
        step(done / rounds, count)
        done += count


class Searcher:
    """The state of one search. ``orders`` are visits by their index in the problem, begun ones first."""

    def __init__(
        self,
        compact: Compact,
        seed: int,
        start: Sequence[Sequence[int]] | None = None,
        *,
        warm: bool = False,
        staged: bool = False,
    ) -> None:
        self.compact = compact
        self.hot = WARM if warm else HOT
        self.stages = STAGES if staged else (1.0,)
        self._stage = 0
        day = compact.day
        # One more than can be done, for the moment in which a row is tried and found not to hold.
        longest = most_stops(day) + 1
        self.state, self._saved = empty_state(day, longest), empty_state(day, longest)
        self.work, self.pool = work_of(day, seed), empty_pool()
        self.iterations = 0
        self._place(start)
        self.best = Best(
            node=self.state.node.copy(),
            stops=np.zeros(len(day.crew), dtype=np.int64),
            cost=np.zeros(1, dtype=np.int64),
        )
        keep(self.state, self.best)
        self.unit = self._mean_arc()

    @property
    def cost(self) -> int:
        """The best cost so far, must-serve visits left out counting ``compact.must_price`` each."""
        return int(self.best.cost[0])

    def run_rounds(self, rounds: int, done: int = 0) -> None:
        """
        Search up to a fixed number of rounds, cooling all the way.

        :param done: how many of them something else has taken.
        """
        by_count(self._step, rounds, done)

    def run_until(self, deadline: float, begun_at: float | None = None) -> None:
        """
        Search until ``perf_counter()`` reaches the deadline, cooling all the way.

        :param begun_at: from when the cooling counts, where something else has taken its first part.
        """
        by_clock(self._step, perf_counter() if begun_at is None else begun_at, deadline)

    def orders(self) -> Orders:
        """The best plan's visits for each crew, in order."""
        return self.orders_from(
            [self.best.node[c, 1 : 1 + int(n)].tolist() for c, n in enumerate(self.best.stops)],
        )

    def orders_from(self, nodes: Sequence[Sequence[int]]) -> Orders:
        """Rows of nodes as visits of the problem, begun ones first."""
        frame, visits = self.compact.frame, self.compact.visits
        return [[*frame.begun[c], *(visits[v] for v in row)] for c, row in enumerate(nodes)]

    def to_best(self) -> None:
        """Go back to the best plan, with everything beside its routes worked out anew."""
        for c, n in enumerate(self.best.stops):
            self._lay(c, self.best.node[c, 1 : 1 + int(n)].tolist())
        refresh_all(self.compact.day, self.state)

    def join(self, parts: Sequence[Part], rounds: int) -> None:
        """
        Take over the plan of parts that make up the whole day, and the best of each where together they are the best.
        """
        best = self.best
        cost = sum(int(part.best.cost[0]) for part in parts)
        for part in parts:
            for c, nodes in rows_of(part, part.state.node, part.state.route[:, STOPS]):
                self._lay(c, nodes)
            if cost < best.cost[0]:
                for c, nodes in rows_of(part, part.best.node, part.best.stops):
                    best.node[c, 1 : len(nodes) + 1], best.stops[c] = nodes, len(nodes)
            with np.errstate(over="ignore"):
                pour(part.pool, self.pool, part.crews, part.nodes)
        best.cost[0] = min(best.cost[0], cost)
        refresh_all(self.compact.day, self.state)
        self.iterations += rounds

    def _step(self, done: float, rounds: int) -> None:
        if not len(self.compact.visits):
            self.iterations += rounds
            return
        temperature = self._temperature(done)
        # Random numbers and fingerprints wrap around on purpose; only plain Python would remark on it.
        with np.errstate(over="ignore"):
            anneal(
                self.compact.day,
                self.state,
                self._saved,
                self.work,
                self.best,
                self.pool,
                temperature,
                float(AVERAGE_REMOVED),
                rounds,
            )
        self.iterations += rounds

    def _temperature(self, done: float) -> float:
        """At a share of the whole time; a new stage begins from the best plan so far."""
        while self._stage < len(self.stages) - 1 and done >= self.stages[self._stage]:
            self._stage += 1
            self.hot = AGAIN * HOT
            self.to_best()
        begins = self.stages[self._stage - 1] if self._stage else 0.0
        cooled = (done - begins) / (self.stages[self._stage] - begins)
        return self.unit * self.hot * float((COLD / self.hot) ** cooled)

    def _place(self, start: Sequence[Sequence[int]] | None) -> None:
        """What is under way, then the start's stops where they hold, then every other visit where it is cheapest."""
        day, state, frame = self.compact.day, self.state, self.compact.frame
        node_of = self.compact.node_of
        for c, to in enumerate(frame.under_way):
            if to is not None and day.assign[node_of[to], c] >= 0:
                self._lay(c, [node_of[to]])
        for c, order in enumerate(start or ()):
            nodes = [node_of[v] for v in order if v in node_of]
            before = self.state.node[c, 1 : 1 + int(self.state.route[c, STOPS])].tolist()
            fits = len(nodes) + 2 <= self.state.node.shape[1]
            if fits and all(day.assign[v, c] >= 0 for v in nodes):
                self._lay(c, nodes)
                if not refresh(day, state, c):
                    self._lay(c, before)
        refresh_all(day, state)
        urgent = np.lexsort(
            (day.visit[:, LATE] - day.visit[:, EARLY], np.minimum(day.visit[:, CHOICES], 4), -day.visit[:, SKIP])
        )
        for v in urgent:
            if state.at[v, 0] < 0:
                cost, c, i = cheapest(day, state, self.work, int(v), 0.0)
                if cost < day.visit[v, SKIP]:
                    insert(day, state, c, i, int(v), cost)
        refresh_all(day, state)

    def _lay(self, c: int, nodes: Sequence[int]) -> None:
        n = len(nodes)
        self.state.node[c, 1 : n + 1] = nodes
        self.state.node[c, n + 1] = self.compact.day.crew[c, END]
        self.state.route[c, STOPS] = n

    def _mean_arc(self) -> float:
        day = self.compact.day
        m = len(day.visit)
        moved = float(day.visit[:, MOVED_RATE].mean()) * 60 if m else 0.0
        return max(1.0, float(day.arc[:m, :m].mean()) if m else 1.0, moved)
