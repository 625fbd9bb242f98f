"""What whoever takes over does first, in the order in which waiting does harm. No database."""

from collections.abc import Sequence
from dataclasses import dataclass

MOST_NAMED = 4


@dataclass(frozen=True)
class First:
    """One thing to do, and the part of the sheet that holds its lines."""

    what: str
    part: str


def first_of(
    *,
    callers: Sequence[tuple[str, str, str]],
    late: Sequence[tuple[str, str, str]],
    asked: Sequence[tuple[str, str]],
    alarms: Sequence[str],
    due: Sequence[str],
    tired: Sequence[str],
    loads: Sequence[str],
    unplanned: Sequence[str],
    doubt: int,
) -> tuple[First, ...]:
    """Callers who wait too long first, then what is promised and late, then who has not answered, then the rest."""
    found: list[First] = []
    if callers:
        found.append(
            First(f"Call back {_named([f'{where} ({owner}: {left})' for where, owner, left in callers])}.", "callers")
        )
    if late:
        found.append(First(f"Late: {_named([f'{what} {whom}, {left}' for what, whom, left in late])}.", "soon"))
    if asked:
        found.append(First(f"No answer yet: {_named([f'{person} for {job}' for person, job in asked])}.", "asks"))
    if alarms:
        found.append(First(f"Settle {_count(alarms, 'alarm')}: {_named(alarms, 2)}", "alarms"))
    if due:
        found.append(First(f"Give a crew to {_named(due)}: due, and on nobody's route.", "due"))
    if tired:
        found.append(First(f"Move the next work of {_named(tired)}: not rested by then.", "rest"))
    if loads:
        found.append(First(f"See that {_named(loads)} gets loaded: the list is still open.", "loads"))
    if unplanned:
        found.append(First(f"Give {_named(unplanned)} a next visit: none is planned.", "jobs"))
    if doubt:
        found.append(
            First(
                f"Look for {doubt} unit{'s' if doubt > 1 else ''} that the record and the floor tell differently.",
                "doubt",
            )
        )
    return tuple(found)


def _named(lines: Sequence[str], most: int = MOST_NAMED) -> str:
    shown = "; ".join(lines[:most])
    return shown if len(lines) <= most else f"{shown}; and {len(lines) - most} more"


def _count(lines: Sequence[str], word: str) -> str:
    return f"{len(lines)} {word}{'' if len(lines) == 1 else 's'}"
