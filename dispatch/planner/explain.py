"""
Why a visit was left out and why a crew is not offered: the binding rule, in a dispatcher's words.

The binding rule is the one broken by the attempt that came nearest to holding.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from dispatch.planner.construct import locked
from dispatch.planner.fitting import Misfit, may_serve
from dispatch.planner.frame import Frame
from dispatch.planner.insertion import cheapest_spot
from dispatch.planner.outlook import Outlook
from dispatch.planner.plan import Plan, Skipped
from dispatch.planner.schedule import schedule
from dispatch.planner.words import duration, reason

# From the rule nothing can bend today to the rule a dispatcher might: the last of those met is the binding one.
HARDNESS = (
    "begun",
    "skills",
    "state",
    "only",
    "capacity",
    "equipment",
    "driving_limit",
    "at_latest",
    "break_missing",
    "window",
)

# A left-out visit is tried in full on so many crews, the nearest; the others are only counted.
CREWS_TRIED = 5


@dataclass(frozen=True)
class Move:
    """A visit that a new plan treats otherwise than the one before; null crew and start: left out."""

    visit: str
    crew_before: str | None
    crew_after: str | None
    start_before_s: int | None
    start_after_s: int | None
    why: str


def why_not(outlook: Outlook, v: int) -> Misfit | None:
    """The rule that keeps a crew, with its day as it stands, from a visit; null if the visit fits somewhere."""
    frame, crew = outlook.frame, outlook.crew
    barred = barred_by(frame, crew, v)
    if barred is not None:
        return barred
    alone = schedule(frame, crew, (*(u for u in locked(frame, crew) if u != v), v))
    if isinstance(alone, Misfit):
        return alone
    nearest: Misfit | None = None
    for position in outlook.positions(v):
        tried = outlook.tried(v, position)
        if tried is None:
            return None
        if nearest is None or _nearness(tried) > _nearness(nearest):
            nearest = tried
    return nearest if nearest is not None else Misfit("begun", frame.under_way[crew])


def barred_by(frame: Frame, crew: int, v: int) -> Misfit | None:
    """The rule that keeps a crew from a visit whatever its day holds, or null."""
    if frame.under_way_by.get(v, crew) != crew:
        return Misfit("begun", v)
    return may_serve(frame.crews[crew], frame.visits[v])


def _nearness(misfit: Misfit) -> tuple[int, int]:
    """Greater is nearer to holding: by the kind of rule, then by the amount."""
    return (HARDNESS.index(misfit.code) if misfit.code in HARDNESS else -1, -misfit.by)


def why_left_out(frame: Frame, outlooks: Sequence[Outlook], v: int) -> Skipped:
    """The reason that stands beside a visit in a plan's ``skipped``."""
    visit = frame.visits[v]
    if not frame.crews:
        return Skipped(visit=visit.id, code="no_crew", message="No crew works that day.")
    if visit.skip is not None:
        best = cheapest_spot(outlooks, v)
        if best is not None:
            who = frame.crews[best.crew].id
            message = (
                f'Crew "{who}" could take it at {best.added_cost} more, but leaving it out costs only {visit.skip}.'
            )
            return Skipped(visit=visit.id, code="price", message=message)
    tried: list[tuple[int, Misfit]] = []
    able: list[tuple[int, int]] = []
    for crew in range(len(frame.crews)):
        barred = barred_by(frame, crew, v)
        if barred is not None:
            tried.append((crew, barred))
        else:
            able.append((_nearest_s(outlooks[crew], v), crew))
    for _, crew in sorted(able)[:CREWS_TRIED]:
        barred = why_not(outlooks[crew], v)
        if barred is not None:
            tried.append((crew, barred))
    if not tried:
        return Skipped(
            visit=visit.id, code="price", message="It would fit, but the rest of the plan is cheaper without."
        )
    # Where crews are named, what keeps those from it says more than that the others are not named.
    named = [t for t in tried if t[1].code != "only"] or tried
    crew, binding = max(named, key=lambda t: (_nearness(t[1]), -t[0]))
    crews = f"None of the {len(frame.crews)} crews can" if len(frame.crews) > 1 else "The only crew cannot"
    lead = f"{crews} take it. {'Closest: ' if len(frame.crews) > 1 else ''}"
    return Skipped(visit=visit.id, code=binding.code, message=lead + reason(frame, crew, v, binding))


def _nearest_s(outlook: Outlook, v: int) -> int:
    """The shortest drive to a visit from anywhere the crew will be."""
    frame = outlook.frame
    places = [frame.departures[outlook.crew].place, *(frame.visit_place[u] for u in outlook.route.visits)]
    return min(frame.seconds[place][frame.visit_place[v]] for place in places)


def moves(frame: Frame, before: Plan, after: Plan) -> tuple[Move, ...]:
    """Who moves between two plans of one day, by how much, and why; in the order of the visits."""
    was, will = _places(before), _places(after)
    left_out = {s.visit: s.message for s in after.skipped}
    found: list[Move] = []
    for visit in frame.visits:
        old, new = was.get(visit.id), will.get(visit.id)
        if old == new:
            continue
        if new is None:
            why = left_out.get(visit.id, "It is no longer planned.")
        elif old is None:
            why = f'It is new in the plan, with crew "{new[0]}".'
        elif old[0] != new[0]:
            why = f'Crew "{new[0]}" takes it over from crew "{old[0]}"{_shift(old[1], new[1])}.'
        else:
            why = f'Crew "{new[0]}" has other stops before it now{_shift(old[1], new[1])}.'
        found.append(
            Move(
                visit.id,
                old[0] if old else None,
                new[0] if new else None,
                old[1] if old else None,
                new[1] if new else None,
                why,
            )
        )
    return tuple(found)


def _shift(old_s: int, new_s: int) -> str:
    if old_s == new_s:
        return ", at the same time"
    return f", {duration(abs(new_s - old_s))} {'later' if new_s > old_s else 'earlier'}"


def _places(plan: Plan) -> dict[str, tuple[str, int]]:
    return {stop.visit: (route.crew, stop.start_s) for route in plan.routes for stop in route.stops}
