"""
From a draft to a plan that may leave the planner: reasons, cost, and the judge's word.
"""

from __future__ import annotations

from collections.abc import Sequence

from dispatch.planner.check import check
from dispatch.planner.construct import Draft, filled, opening
from dispatch.planner.cost import plan_cost
from dispatch.planner.explain import why_left_out
from dispatch.planner.fitting import Misfit
from dispatch.planner.frame import Frame
from dispatch.planner.outlook import outlook_of
from dispatch.planner.plan import Bound, Plan, Search
from dispatch.planner.schedule import Timed, as_route, schedule
from dispatch.planner.violation import Violation


class PlanUnsound(RuntimeError):
    """
    A plan was made that breaks a rule: an error of the planner, never of the problem.

    :ivar violations: what the judge found.
    """

    def __init__(self, violations: tuple[Violation, ...]) -> None:
        shown = "; ".join(f"{v.code}: {v.message}" for v in violations[:3])
        super().__init__(
            f"the planner made a plan that breaks {len(violations)} rules ({shown}); please report the problem"
        )
        self.violations = violations


def draft_of(frame: Frame, orders: Sequence[Sequence[int]]) -> Draft:
    """
    A draft from the order of visits on each crew's route; stops that no longer hold on a route drop out of it.
    """
    draft = opening(frame)
    for crew, order in enumerate(orders):
        timed = schedule(frame, crew, tuple(order))
        if isinstance(timed, Misfit):
            timed = _kept(frame, crew, draft.routes[crew], order)
        if timed.visits or not draft.routes[crew].visits:
            draft.routes[crew] = timed
    served = {v for route in draft.routes for v in route.visits}
    draft.left_out = set(range(len(frame.visits))) - served
    return draft


def _kept(frame: Frame, crew: int, route: Timed, order: Sequence[int]) -> Timed:
    """What is fixed, then each stop of the order that still holds behind those before it."""
    for v in order:
        if v not in route.visits:
            longer = schedule(frame, crew, (*route.visits, v))
            route = longer if isinstance(longer, Timed) else route
    return route


def finished(frame: Frame, draft: Draft, search: Search, bound: Bound | None = None) -> Plan:
    """
    The draft as a plan, after one more attempt at every must-serve visit it leaves out.

    :raises PlanUnsound: if the judge finds a broken rule.
    """
    musts = sorted(v for v in draft.left_out if frame.visits[v].skip is None)
    before = -1
    while musts and before != len(draft.left_out):
        before = len(draft.left_out)
        draft = filled(frame, draft, [v for v in musts if v in draft.left_out])
    routes = tuple(as_route(frame, crew, timed) for crew, timed in enumerate(draft.routes) if timed.visits)
    outlooks = [outlook_of(frame, crew, timed) for crew, timed in enumerate(draft.routes)]
    left_out = sorted(draft.left_out)
    plan = Plan(
        routes=routes,
        skipped=tuple(why_left_out(frame, outlooks, v) for v in left_out),
        cost=plan_cost(frame, routes, [frame.visits[v] for v in left_out]),
        bound=bound,
        search=search,
    )
    violations = check(frame.problem, plan)
    if violations:
        raise PlanUnsound(violations)
    return plan


def orders_of(frame: Frame, plan: Plan) -> list[list[int]]:
    """
    The order of visits for each crew that a plan means today: what is begun or under way first, whoever had it before.

    Visits and crews the problem no longer knows are left aside, so that yesterday evening's plan can start today's.
    """
    fixed = {*frame.begun_by, *frame.under_way_by}
    orders: list[list[int]] = []
    for crew in range(len(frame.crews)):
        under_way = frame.under_way[crew]
        orders.append([*frame.begun[crew], *(() if under_way is None else (under_way,))])
    seen = set(fixed)
    for route in plan.routes:
        at = frame.crew_at.get(route.crew)
        for stop in route.stops:
            v = frame.visit_at.get(stop.visit)
            if at is not None and v is not None and v not in seen:
                seen.add(v)
                orders[at].append(v)
    return orders
