"""
What forbids a visit to a crew or a route to a vehicle, apart from time: skills, states, named crews, loads, driving.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from dispatch.planner.frame import Frame
from dispatch.planner.problem import Crew, Visit


@dataclass(frozen=True)
class Misfit:
    """
    The rule that a route breaks: its code as in ``check``, where, and by how much.

    ``by`` is in the unit of the rule (seconds, units of ``what``); ``visit`` is an index, null for the whole route.
    """

    code: str
    visit: int | None = None
    by: int = 0
    what: str = ""


def may_serve(crew: Crew, visit: Visit) -> Misfit | None:
    """The rule that keeps this crew from this visit on any day, or null."""
    missing = [skill for skill in visit.skills if skill not in crew.skills]
    if missing:
        return Misfit("skills", what=", ".join(missing[:5]))
    if visit.state is not None and visit.state not in crew.states:
        return Misfit("state", what=visit.state)
    if visit.only is not None and crew.id not in visit.only:
        return Misfit("only")
    for key in {**visit.deliver, **visit.collect}:
        over = max(visit.deliver.get(key, 0), visit.collect.get(key, 0)) - crew.capacity.get(key, 0)
        if over > 0:
            return Misfit("capacity", by=over, what=key)
    return None


def overload(crew: Crew, visits: Sequence[Visit]) -> tuple[int, str, int] | None:
    """
    The first excess on the route: position (-1 = at the start), key and amount; null when everything fits.

    All deliveries are aboard from the start, all collections stay to the end, and at a stop things are unloaded
    before others are loaded: so the load after each stop is its peak.
    """
    keys = {key for visit in visits for key in (*visit.deliver, *visit.collect)}
    for key in sorted(keys):
        room = crew.capacity.get(key, 0)
        load = sum(visit.deliver.get(key, 0) for visit in visits)
        if load > room:
            return -1, key, load - room
        for i, visit in enumerate(visits):
            load += visit.collect.get(key, 0) - visit.deliver.get(key, 0)
            if load > room:
                return i, key, load - room
    return None


def unfit(frame: Frame, crew: int, visits: Sequence[int]) -> Misfit | None:
    """The first rule apart from time that a route breaks; a route of begun visits alone is a fact and breaks none."""
    who = frame.crews[crew]
    begun = frame.begun[crew]
    if tuple(visits[: len(begun)]) != begun:
        return Misfit("begun")
    ahead = visits[len(begun) :]
    if not ahead:
        return None
    under_way = frame.under_way[crew]
    if under_way is not None and ahead[0] != under_way:
        return Misfit("begun", visit=under_way)
    for v in ahead:
        barred = may_serve(who, frame.visits[v])
        if barred is not None:
            return Misfit(barred.code, v, barred.by, barred.what)
    over = overload(who, [frame.visits[v] for v in visits])
    if over is not None:
        return Misfit("capacity", visits[max(over[0], 0)], over[2], over[1])
    if who.driving_limit_s is not None:
        driving_s, _ = frame.driving(who, visits)
        if driving_s > who.driving_limit_s:
            return Misfit("driving_limit", None, driving_s - who.driving_limit_s)
    return None
