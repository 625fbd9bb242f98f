"""
A good plan of a big day early: all cores on one plan, in parts, cooling down several times.

Long searches that each keep to a plan of their own end better than parts do; for the first seconds, parts do.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from time import perf_counter

import numpy as np

from dispatch.planner.divided import cut, heat, part_of
from dispatch.planner.search import AGAIN, COLD, HOT, Searcher, Step, by_clock, by_count

# Two parts for two cores; a smaller day is as quickly searched whole.
PARTS, VISITS_FROM = 2, 300
# The early search has this share of the time or the rounds, and at least so much for each visit.
EARLY_SHARE = 0.15
EARLY_S, EARLY_ROUNDS = 0.02, 300
# Before a long search it cools down twice: quickly, for a plan at once, and from that plan again.
ONCE, TWICE = (1.0,), (0.2, 1.0)
PHASES = 100
# Cutting and joining take some thousandths of a second.
SHORTEST_PHASE_S = 0.08

# Takes steps with a part, by its number, until its time or its rounds are over.
Drive = Callable[[int, Step], None]


def pays(visits: int) -> bool:
    """Whether a day is big enough to be searched in parts."""
    return visits >= VISITS_FROM


def early_s(visits: int, seconds: float) -> float:
    """How long the early search takes of so many seconds: all of them where little more would be left."""
    early = max(EARLY_SHARE * seconds, EARLY_S * visits)
    return early if 2 * early < seconds else seconds


def early_rounds(visits: int, rounds: int) -> int:
    """How many of the rounds of each search the early search takes."""
    early = max(int(EARLY_SHARE * rounds), EARLY_ROUNDS * visits)
    return early if 2 * early < rounds else rounds


class Divided:
    """
    The early search of one day; its plans go to ``whole``.

    :ivar team: with ``workers`` threads; how many there are changes nothing but the time.
    """

    def __init__(
        self, whole: Searcher, seed: int, team: Executor, workers: int, on_cost: Callable[[int], None]
    ) -> None:
        self.whole, self.team, self.on_cost = whole, team, on_cost
        # Parts that share a core take turns.
        self.workers, self.turns = workers, -(-PARTS // workers)
        self._draws = np.random.default_rng(seed)
        self._stage = 0

    def run_until(self, begun_at: float, deadline: float, stages: Sequence[float]) -> None:
        """Search until ``perf_counter()`` reaches the deadline, cooled down after each of these shares of the time."""
        seconds = deadline - begun_at
        ended_at = begun_at
        for stage, share in enumerate(stages):
            from_s, ended_at = ended_at, begun_at + share * seconds
            phases = max(1, min(PHASES, int((ended_at - from_s) / (self.turns * SHORTEST_PHASE_S))))
            for phase in range(phases):
                until_s = from_s + (ended_at - from_s) * (phase + 1) / phases
                if perf_counter() < until_s:
                    self._phase(stage, phase / phases, 1 / phases, self._until(until_s))

    def run_rounds(self, rounds: int, stages: Sequence[float]) -> None:
        """Search for so many rounds in each part, cooled down after each of these shares of them."""
        done = 0
        for stage, share in enumerate(stages):
            begun, done = done, int(share * rounds)
            marks = [begun + (done - begun) * phase // PHASES for phase in range(PHASES + 1)]
            for phase in range(PHASES):
                if marks[phase + 1] > marks[phase]:
                    self._phase(stage, phase / PHASES, 1 / PHASES, _rounds(marks[phase + 1] - marks[phase]))

    def _until(self, until_s: float) -> Drive:
        now = perf_counter()

        def drive(number: int, step: Step) -> None:
            turn = number // self.workers + 1
            by_clock(step, perf_counter(), now + (until_s - now) * turn / self.turns)

        return drive

    def _phase(self, stage: int, cooled: float, more: float, drive: Drive) -> None:
        """Cut, search every part while it cools from a share of the stage by some more, and join."""
        whole = self.whole
        if stage != self._stage:
            self._stage = stage
            whole.to_best()
        day, hot = whole.compact.day, AGAIN * HOT if stage else HOT
        parts = [
            part_of(day, whole.state, crews, visits, int(self._draws.integers(2**31)))
            for crews, visits in cut(day, whole.state, self._draws, PARTS)
        ]
        rounds = [0] * len(parts)

        def search(number: int) -> None:
            def step(done: float, count: int) -> None:
                heat(parts[number], whole.unit * hot * (COLD / hot) ** (cooled + more * done), count)
                rounds[number] += count

            drive(number, step)

        for running in [self.team.submit(search, number) for number in range(len(parts))]:
            running.result()
        whole.join(parts, sum(rounds))
        self.on_cost(whole.cost)


def _rounds(count: int) -> Drive:
    return lambda _, step: by_count(step, count)
