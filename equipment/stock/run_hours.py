"""
Hours that a machine should have run and did not: its hour meter against the clock.

A machine that is left to dry runs day and night, so between two looks its meter gains as many hours as passed. What is
missing is silent: a tripped breaker, a pulled cord, a full tank. Pure functions of times and figures.
"""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

# Meters count in tenths or in whole hours, and nobody reads them on the minute (from memory).
COARSE_H = 1.0


class Says(StrEnum):
    """What a meter reading says beside the one before."""

    FIRST = "first"
    """There is nothing to compare it with."""
    RAN = "ran"
    SILENT = "silent"
    """Hours are missing."""
    BACKWARD = "backward"
    """The meter shows less than before: a slip, or another meter."""
    TOO_FAST = "too_fast"
    """The meter gained more than the clock."""


@dataclass(frozen=True)
class MeterSeen:
    """What an hour meter showed, in hours, and when."""

    hours: float
    at: datetime

    def __post_init__(self) -> None:
        if self.hours < 0 or self.at.tzinfo is None:
            raise ValueError("a meter shows hours from 0, at a time with its zone")


@dataclass(frozen=True)
class HoursRun:
    """Of one machine between two looks, in hours; None where there is nothing to compare with."""

    says: Says
    clock_h: float | None = None
    ran_h: float | None = None
    silent_h: float | None = None

    @property
    def asks(self) -> bool:
        """Whether a person should say something about it."""
        return self.says not in {Says.FIRST, Says.RAN}


def hours_run(before: MeterSeen | None, now: MeterSeen) -> HoursRun:
    """
    What ran between two looks, in elapsed hours, whatever clocks on the wall did.

    :raises ValueError: if the second look is not later than the first.
    """
    if before is None:
        return HoursRun(Says.FIRST)
    # Two times of one zone subtract as the wall shows them; what passed is the difference of their instants.
    clock_h, ran_h = (now.at.timestamp() - before.at.timestamp()) / 3600, now.hours - before.hours
    if clock_h <= 0:
        raise ValueError("the second look is later than the first")
    silent_h = max(0.0, clock_h - ran_h)
    if ran_h < 0:
        says = Says.BACKWARD
    elif ran_h > clock_h + COARSE_H:
        says = Says.TOO_FAST
    else:
        says = Says.SILENT if silent_h > COARSE_H else Says.RAN
    silent = None if says in {Says.BACKWARD, Says.TOO_FAST} else round(silent_h, 2)
    return HoursRun(says, round(clock_h, 2), round(ran_h, 2), silent)
