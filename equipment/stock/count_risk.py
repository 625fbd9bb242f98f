"""
Which units to count today: the ones that would be missed the longest if they were gone.

Points, our own choice (no source; GAO-02-447G only asks that counts be frequent, partial and aimed at risk):
each whole day not seen 1, at most 30; each time left at a job within a year 6, at most 18; each time not found within
a year 10, at most 20; each open difference between record and floor 12, at most 24; rented 8; an expensive kind 5, both
only for a unit that was not seen within the last day.
"""

from collections.abc import Iterable
from dataclasses import dataclass

AT_MOST = 20
DAY_POINTS, MOST_DAYS = 1, 30
LEFT_POINTS, MOST_LEFT = 6, 3
MISSING_POINTS, MOST_MISSING = 10, 2
OPEN_POINTS, MOST_OPEN = 12, 2
RENTED_POINTS, EXPENSIVE_POINTS = 8, 5
EXPENSIVE = frozenset({"lgr", "conventional", "desiccant", "heater", "generator"})


@dataclass(frozen=True)
class Facts:
    """What is known of one unit. `days_unseen` in whole days; the three counts are of the last year, or open now."""

    unit_id: int
    number: str
    kind: str
    days_unseen: int
    times_left: int = 0
    times_missing: int = 0
    open_differences: int = 0
    rented: bool = False


@dataclass(frozen=True)
class ToCount:
    """One unit to be counted, with the reasons for it in plain words, the weightiest first."""

    unit_id: int
    number: str
    points: int
    reasons: tuple[str, ...]


def risk(facts: Facts) -> ToCount:
    """The unit's points and what they are for."""
    parts = [
        (min(facts.days_unseen, MOST_DAYS) * DAY_POINTS, f"not seen for {_times(facts.days_unseen, 'day')}"),
        (min(facts.times_left, MOST_LEFT) * LEFT_POINTS, f"left at a job {_often(facts.times_left)} in a year"),
        (
            min(facts.times_missing, MOST_MISSING) * MISSING_POINTS,
            f"not found {_often(facts.times_missing)} in a year",
        ),
        (
            min(facts.open_differences, MOST_OPEN) * OPEN_POINTS,
            f"{_times(facts.open_differences, 'difference')} not explained",
        ),
        (RENTED_POINTS if facts.rented and facts.days_unseen else 0, "rented: every day costs"),
        (EXPENSIVE_POINTS if facts.kind in EXPENSIVE and facts.days_unseen else 0, "an expensive kind"),
    ]
    named = sorted((part for part in parts if part[0]), key=lambda part: -part[0])
    return ToCount(facts.unit_id, facts.number, sum(points for points, _ in named), tuple(word for _, word in named))


def choose(units: Iterable[Facts], at_most: int = AT_MOST) -> tuple[ToCount, ...]:
    """The riskiest first; of equals the lower number. A unit without any risk is not counted today."""
    found = [one for one in map(risk, units) if one.points]
    return tuple(sorted(found, key=lambda one: (-one.points, one.number))[:at_most])


def _times(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def _often(number: int) -> str:
    return {1: "once", 2: "twice"}.get(number, f"{number} times")
