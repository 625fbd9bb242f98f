"""
How much of a pool is promised at its peak, and when enough is free.

Periods are half-open: a use that ends at 18:00 and one that begins at 18:00 never meet.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta


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


def peak_use(uses: Iterable[Use], starts_at: datetime, ends_at: datetime) -> int:
    """The most units promised at one instant of [`starts_at`, `ends_at`)."""
    steps: list[tuple[datetime, int]] = []
    for use in uses:
        start, end = max(use.starts_at, starts_at), min(use.ends_at, ends_at)
        if start < end:
            steps += [(start, use.quantity), (end, -use.quantity)]
    # At one instant the ends (negative) come before the starts.
    steps.sort()
    peak = level = 0
    for _, step in steps:
        level += step
        peak = max(peak, level)
    return peak


def free(uses: Iterable[Use], stock: int, starts_at: datetime, ends_at: datetime) -> int:
    """Units free throughout the period; below zero where facts pushed use above stock."""
    return stock - peak_use(uses, starts_at, ends_at)


def first_free(
    uses: Iterable[Use], stock: int, wanted: int, not_before: datetime, length: timedelta
) -> datetime | None:
    """The first instant from which `wanted` units are free for `length`; None if the stock itself is smaller."""
    if wanted > stock:
        return None
    known = tuple(uses)
    # Use only falls where something ends, so no other instant can be the first.
    for at in sorted({not_before, *(use.ends_at for use in known if use.ends_at > not_before)}):
        if free(known, stock, at, at + length) >= wanted:
            return at
    raise AssertionError("after the last end everything is free")


def free_until(uses: Iterable[Use], stock: int, wanted: int, at: datetime) -> datetime | None:
    """Until when `wanted` units that are free at `at` stay free; None: no end is in sight."""
    known = tuple(uses)
    for start in sorted({at, *(use.starts_at for use in known if use.starts_at > at)}):
        level = sum(use.quantity for use in known if use.starts_at <= start < use.ends_at)
        if level + wanted > stock:
            return start
    return None
