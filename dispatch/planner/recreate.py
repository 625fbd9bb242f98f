"""
Putting visits back into routes, one at a time at the cheapest place, in an order drawn at random.
"""

from __future__ import annotations

from dispatch.planner.compact import CHOICES, DUE, EARLY, LATE, REMOTE, SERVICE, SKIP, Day
from dispatch.planner.jit import kernel
from dispatch.planner.work import Work, below, draw


@kernel
def order(day: Day, work: Work, n: int) -> None:
    """Sort the queue by one of several keys, drawn at random."""
    visit, queue, keys, random = day.visit, work.queue, work.key, work.random
    choice = below(random, 14)
    for q in range(n):
        v = queue[q]
        if choice < 4:
            key = draw(random)
        elif choice < 6:
            key = -float(visit[v, SERVICE])
        elif choice < 8:
            key = float(visit[v, LATE] - visit[v, EARLY])
        elif choice < 9:
            key = float(visit[v, EARLY])
        elif choice < 10:
            key = float(min(visit[v, LATE], visit[v, DUE]))
        elif choice < 11:
            key = -float(visit[v, SKIP])
        elif choice < 12:
            key = float(visit[v, CHOICES])
        else:
            key = -float(visit[v, REMOTE]) if choice < 13 else float(visit[v, REMOTE])
        keys[q] = key
    for q in range(1, n):
        v, key = queue[q], keys[q]
        p = q
        while p > 0 and keys[p - 1] > key:
            queue[p], keys[p] = queue[p - 1], keys[p - 1]
            p -= 1
        queue[p], keys[p] = v, key
