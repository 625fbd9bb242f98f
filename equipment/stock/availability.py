"""
How much of a pool is promised at its peak, and when enough is free.

Periods are half-open: a use that ends at 18:00 and one that begins at 18:00 never meet.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import accumulate, pairwise


@dataclass(frozen=True)
class Use:
    """`quantity` units promised over [`starts_at`, `ends_at`)."""

    starts_at: datetime
    ends_at: datetime
    quantity: int

    def __post_init__(self) -> None:
        if self.ends_at <= self.starts_at:
            raise ValueError("a use ends after it starts")
        if self.quantity < 0:
            raise ValueError("a use has no negative quantity")


def levels(uses: Iterable[Use]) -> list[tuple[datetime, int]]:
    """(instant, units in use from then until the next instant), in order; nothing is in use before and after."""
    return _levels((use.starts_at, use.ends_at, use.quantity) for use in uses)


def _levels(uses: Iterable[tuple[datetime, datetime, int]]) -> list[tuple[datetime, int]]:
    change: dict[datetime, int] = defaultdict(int)
    for starts_at, ends_at, quantity in uses:
        change[starts_at] += quantity
        change[ends_at] -= quantity
    instants = sorted(change)
    return list(zip(instants, accumulate(change[at] for at in instants), strict=True))


def peak_use(uses: Iterable[Use], starts_at: datetime, ends_at: datetime) -> int:
    """The most units promised at one instant of [`starts_at`, `ends_at`)."""
    within = (
        (max(use.starts_at, starts_at), min(use.ends_at, ends_at), use.quantity)
        for use in uses
        if use.starts_at < ends_at and use.ends_at > starts_at
    )
    return max((level for _, level in _levels(within)), default=0)


def free(uses: Iterable[Use], stock: int, starts_at: datetime, ends_at: datetime) -> int:
    """Units free throughout the period; below zero where facts pushed use above stock."""
    return stock - peak_use(uses, starts_at, ends_at)


def first_free(
    uses: Iterable[Use], stock: int, wanted: int, not_before: datetime, length: timedelta
) -> datetime | None:
    """
    The first instant from which `wanted` units are free for `length`; None if the stock itself is smaller.

    Sorting apart, the time grows with the number of uses.
    """
    if wanted > stock:
        return None
    steps = levels(uses)
    # Use only falls where something ends, so no other instant can be the first.
    free_since = not_before
    for (at, level), (until, _) in pairwise(steps):
        if at >= free_since + length:
            break
        if level + wanted > stock and until > free_since:
            free_since = until
    return free_since


def free_until(uses: Iterable[Use], stock: int, wanted: int, at: datetime) -> datetime | None:
    """Until when `wanted` units that are free at `at` stay free; None: no end is in sight."""
    if wanted > stock:
        return at
    steps = levels(uses)
    for (start, level), (until, _) in pairwise(steps):
        if until > at and level + wanted > stock:
            return max(start, at)
    return None
