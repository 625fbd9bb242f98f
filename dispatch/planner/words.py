"""
Rules in a dispatcher's words: which one binds, for whom, and by how much.
"""

from __future__ import annotations

from collections.abc import Sequence

from dispatch.planner.fitting import Misfit
from dispatch.planner.frame import Frame


def duration(seconds: int) -> str:
    """``4800`` as ``1 h 20 min``; what is below a minute stays in seconds, the rest is rounded up to minutes."""
    if seconds < 60:
        return f"{seconds} s"
    minutes = -(-seconds // 60)
    if minutes < 60:
        return f"{minutes} min"
    hours, rest = divmod(minutes, 60)
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def listed(names: Sequence[str], most: int = 5) -> str:
    """Names in a row, the rest only counted."""
    shown = ", ".join(names[:most]) or "nobody"
    return shown if len(names) <= most else f"{shown} and {len(names) - most} more"


def reason(frame: Frame, crew: int, visit: int, misfit: Misfit) -> str:
    """Why this crew cannot take this visit, given the rule that the best attempt broke."""
    who, name = frame.crews[crew].id, frame.visits[visit].id
    other = None if misfit.visit is None else frame.visits[misfit.visit].id
    late = duration(misfit.by)
    if misfit.code == "skills":
        return f'Crew "{who}" lacks the skill {misfit.what}.'
    if misfit.code == "state":
        return f'Crew "{who}" may not work in {misfit.what}.'
    if misfit.code == "only":
        return f'"{name}" is kept for {listed(frame.visits[visit].only or ())}, so not for crew "{who}".'
    if misfit.code == "capacity":
        return f'The vehicle of crew "{who}" has {misfit.by} too little room for {misfit.what}.'
    if misfit.code == "window":
        if other == name:
            return f'Crew "{who}" would arrive {late} after the window of "{name}" ends.'
        return f'Crew "{who}" would then come {late} too late for the window of "{other}".'
    if misfit.code == "at_latest":
        return f'Crew "{who}" would end its day {late} after its latest end.'
    if misfit.code == "driving_limit":
        return f'Crew "{who}" would drive {late} more than its limit for the day.'
    if misfit.code == "break_missing":
        return f'Crew "{who}" would have no time left for the break it is owed.'
    if misfit.code == "equipment":
        return f'Crew "{who}" lacks {misfit.what} and can fetch it nowhere.'
    if misfit.code == "begun":
        target = frame.under_way[crew]
        towards = "" if target is None else f' to "{frame.visits[target].id}"'
        return f'Crew "{who}" is already driving{towards}, and that drive cannot be joined to this visit.'
    return f'Crew "{who}" cannot take "{name}" ({misfit.code}).'
