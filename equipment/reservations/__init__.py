"""
What is promised: equipment by model and place over half-open periods.

A hold is granted only if the peak of all live promises over its period stays within the pool's stock, looked at while
the pool's row is locked. Facts (a unit breaks, is simply taken, is still out) are never refused; they may push use
above stock, which raises an alarm. A hold lapses by an entry, never by comparing clocks.
"""

from equipment.reservations.changes import (
    Changed,
    StillOut,
    close_hold,
    confirm_hold,
    extend_hold,
    release_hold,
    shorten_hold,
)
from equipment.reservations.holds import Held, hold
from equipment.reservations.shortage import Short
from equipment.reservations.timers import end_of_promise, expire_hold

__all__ = [
    "Changed",
    "Held",
    "Short",
    "StillOut",
    "close_hold",
    "confirm_hold",
    "end_of_promise",
    "expire_hold",
    "extend_hold",
    "hold",
    "release_hold",
    "shorten_hold",
]
