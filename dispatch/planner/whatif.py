"""
"What if": the same day with one thing changed, solved again, and the difference told.

The day's plan is the start of the search, so that what is told comes from the change and not from chance.
"""

from __future__ import annotations

from dataclasses import dataclass

from dispatch.planner.explain import Move
from dispatch.planner.plan import Plan
from dispatch.planner.problem import Crew, Problem, Visit, build
from dispatch.planner.reading import Refused
from dispatch.planner.solve import Limit, solve
from dispatch.planner.words import duration, listed


@dataclass(frozen=True)
class WhatIf:
    """A changed day: its plan, what it saves (negative: costs more), and who is served or left out otherwise."""

    plan: Plan
    saved: int
    newly_served: tuple[str, ...]
    newly_left_out: tuple[str, ...]
    overtime_saved_s: int
    moves: tuple[Move, ...]
    told: str


def one_more_crew(problem: Problem, crew: Crew) -> Problem:
    """
    The day with one more crew, e.g. a second shift until 20:00.

    :raises Refused: if a crew of that name is there already, or its places are unknown.
    """
    return _changed(problem, crews=(*problem.crews, crew))


def longer_shift(problem: Problem, crew: str, until_s: int) -> Problem:
    """
    The day with one crew's regular shift ending at ``until_s``.

    :raises Refused: if there is no such crew, or its shift would end before it starts.
    """
    if crew not in {c.id for c in problem.crews}:
        raise Refused("crew_unknown", "crew", f'"{crew}" is not one of the crews of this day')
    crews = tuple(
        c.model_copy(update={"until_s": until_s, "at_latest_s": max(until_s, c.at_latest_s)}) if c.id == crew else c
        for c in problem.crews
    )
    return _changed(problem, crews=crews)


def wider_window(problem: Problem, visit: str, by_s: int) -> Problem:
    """
    The day with one arrival window opening and ending ``by_s`` seconds earlier and later.

    :raises Refused: if there is no such visit, it has no window, or ``by_s`` would close it.
    """
    found = next((v for v in problem.visits if v.id == visit), None)
    if found is None:
        raise Refused("visit_unknown", "visit", f'"{visit}" is not one of the visits of this day')
    if found.window_s is None:
        raise Refused("no_window", "visit", f'"{visit}" has no arrival window, so none can be wider')
    early_s, late_s = found.window_s
    wider = found.model_copy(update={"window_s": (early_s - by_s, late_s + by_s)})
    return _changed(problem, visits=tuple(wider if v.id == visit else v for v in problem.visits))


def what_if(problem: Problem, plan: Plan, changed: Problem, *, limit: Limit, seed: int) -> WhatIf:
    """Solve the changed day from the plan of the unchanged one, and tell what that brings."""
    outcome = solve(changed, limit=limit, seed=seed, start=plan)
    return difference(plan, outcome.plan, outcome.moves)


def difference(before: Plan, after: Plan, moves: tuple[Move, ...]) -> WhatIf:
    """What a changed day's plan brings against the plan of the unchanged one."""
    was = {s.visit for s in before.skipped}
    now = {s.visit for s in after.skipped}
    served, left_out = tuple(sorted(was - now)), tuple(sorted(now - was))
    saved = before.cost.total - after.cost.total
    overtime_saved_s = sum(r.overtime_s for r in before.routes) - sum(r.overtime_s for r in after.routes)
    moved = [m for m in moves if m.visit not in {*served, *left_out}]
    told = _told(saved, served, left_out, overtime_saved_s, len(moved))
    return WhatIf(after, saved, served, left_out, overtime_saved_s, moves, told)


def _told(saved: int, served: tuple[str, ...], left_out: tuple[str, ...], overtime_saved_s: int, moved: int) -> str:
    parts = []
    if served:
        parts.append(f"{len(served)} more served ({listed(served)})")
    if left_out:
        parts.append(f"{len(left_out)} no longer served ({listed(left_out)})")
    if overtime_saved_s:
        parts.append(f"{duration(abs(overtime_saved_s))} {'less' if overtime_saved_s > 0 else 'more'} overtime")
    if moved:
        parts.append(f"{moved} visit{'s' if moved > 1 else ''} would move")
    if saved:
        parts.append(f"the day costs {abs(saved)} {'less' if saved > 0 else 'more'}")
    return ("; ".join(parts) or "nothing changes") + "."


def _changed(
    problem: Problem, *, crews: tuple[Crew, ...] | None = None, visits: tuple[Visit, ...] | None = None
) -> Problem:
    """Built anew, so that a changed day is as sound as any other."""
    return build(
        problem.crews if crews is None else crews,
        problem.visits if visits is None else visits,
        problem.places,
        now_s=problem.now_s,
        stock=problem.stock,
        travel=problem.travel,
        prices=problem.prices,
    )
