"""
What one search scribbles on: its random state, rows that no iteration needs to allocate, and places found before.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from dispatch.planner.compact import Day, Ints
from dispatch.planner.jit import kernel

# Of a visit on a crew's route as it was at VERSION: the added COST of its cheapest PLACE, or, where PLACE is -1, a cost
# below which there is none.
KNOWN_VERSION, KNOWN_COST, KNOWN_PLACE = range(3)
KNOWN_COLUMNS = 3


class Work(NamedTuple):
    """Scratch space of one search: its random state, and rows that no iteration needs to allocate."""

    random: NDArray[np.uint64]  # 1
    row: NDArray[np.int32]  # m + 2
    queue: NDArray[np.int32]  # m
    queued: Ints  # 1: how many stand in the queue
    key: NDArray[np.float64]  # m
    seen: NDArray[np.int32]  # c: 1 where already looked at
    like: Ints  # c: the visit that last looked at an empty crew of this kind
    touched: NDArray[np.int32]  # c + 1: how many, then which
    mark: NDArray[np.int32]  # c: 1 where touched
    known: Ints  # m x c x KNOWN_COLUMNS: what the last look at a visit on a route found
    asked: Ints  # c x 2: crews that must be looked at, each with the position to overlook there or -1


def work_of(day: Day, seed: int) -> Work:
    """Fresh scratch space; the same seed draws the same numbers."""
    m, c = len(day.visit), len(day.crew)
    mixed = (seed * 0x9E3779B97F4A7C15 + 0x2545F4914F6CDD1D) % 2**64 or 1
    return Work(
        random=np.array([mixed], dtype=np.uint64),
        row=np.zeros(m + 2, dtype=np.int32),
        queue=np.zeros(m, dtype=np.int32),
        queued=np.zeros(1, dtype=np.int64),
        key=np.zeros(m, dtype=np.float64),
        seen=np.zeros(c, dtype=np.int32),
        like=np.full(c, -1, dtype=np.int64),
        touched=np.zeros(c + 1, dtype=np.int32),
        mark=np.zeros(c, dtype=np.int32),
        known=np.zeros((m, c, KNOWN_COLUMNS), dtype=np.int64),
        asked=np.zeros((c, 2), dtype=np.int64),
    )


@kernel
def draw(random: NDArray[np.uint64]) -> float:
    """The next number in [0, 1): Marsaglia's xorshift, "Xorshift RNGs" (2003), with the triple 13, 7, 17."""
    x = random[0]
    x ^= x << np.uint64(13)
    x ^= x >> np.uint64(7)
    x ^= x << np.uint64(17)
    random[0] = x
    return np.float64(x >> np.uint64(11)) * (1.0 / 9007199254740992.0)


@kernel
def below(random: NDArray[np.uint64], n: int) -> int:
    """A whole number in [0, n)."""
    return int(draw(random) * n)
