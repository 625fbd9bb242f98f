"""A day plan to look at: routes in words, what was left out and why, what it costs, what it changes."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from dispatch import snapshot
from dispatch.desk.plan_changes import Comparison, comparison
from dispatch.desk.waiting_words import not_begun
from dispatch.desk.what_if_words import WhatIfs, what_ifs
from dispatch.models import Crew, Plan, Stop
from dispatch.overrides import Overridden, said_for
from dispatch.wording import in_names
from jobs.models import Visit

COST_WORDS = {
    "total": "Whole day",
    "driving": "Driving",
    "crews": "Crews that go out",
    "lateness": "Arriving late",
    "overtime": "Overtime",
    "moved": "Moved promises",
    "preference": "Changed crews",
    "skipped": "Left out",
}


@dataclass(frozen=True)
class PlannedStop:
    """One stop of a plan, and when it stands on the routes now, where that differs."""

    at: datetime
    what: str
    job_number: str
    published: str
    override: str = ""


@dataclass(frozen=True)
class PlannedRoute:
    """One crew's day in a plan."""

    crew: str
    stops: tuple[PlannedStop, ...]
    ends_at: datetime
    drive_min: int
    overtime_min: int


@dataclass(frozen=True)
class CostTerm:
    """One term of what a plan costs, in dollars."""

    name: str
    dollars: float


@dataclass(frozen=True)
class Progress:
    """How far a plan is that is being worked out; seconds of the limit, the rest in words."""

    elapsed_s: int
    limit_s: int | None
    cost: str
    bound: str


@dataclass(frozen=True)
class PlanPage:
    """Everything on `/desk/plans/ID`. Costs in dollars."""

    plan_id: int
    day: date
    state: str
    state_word: str
    zone: ZoneInfo
    failure: str
    routes: tuple[PlannedRoute, ...]
    left_out: tuple[tuple[str, str], ...]
    cost: tuple[CostTerm, ...]
    bound: str
    search: str
    progress: Progress | None
    not_begun: bool
    comparison: Comparison | None
    what_ifs: WhatIfs | None


def plan_page(*, area_id: int, plan_id: int) -> PlanPage | None:
    """One plan of the area, or None; nine queries."""
    plan = Plan.objects.select_related("area").filter(area_id=area_id, pk=plan_id).first()
    if plan is None:
        return None
    outcome = plan.outcome or {"routes": [], "skipped": [], "cost": {}, "bound": None, "search": {}}
    keys = [stop["visit"] for route in outcome["routes"] for stop in route["stops"]]
    keys += [row["visit"] for row in outcome["skipped"]]
    ids = [snapshot.id_of(name) for name in keys if name.startswith("v")]
    visits = Visit.objects.select_related("job").prefetch_related("job__contacts").in_bulk(ids)
    crews = {crew.pk: crew for crew in Crew.objects.filter(area_id=plan.area_id, service_day=plan.service_day)}
    now_at = {row.visit_id: row for row in Stop.objects.filter(visit_id__in=ids).select_related("crew")}
    words = said_for(list(crews.values()))
    names = {snapshot.visit_key(pk): visit.job.number for pk, visit in visits.items()}
    names |= {snapshot.crew_key(pk): crew.name for pk, crew in crews.items()}
    asked_names = names | {
        snapshot.visit_key(pk): f"{visit.job.number}, {visit.get_kind_display()} in {visit.job.town}"
        for pk, visit in visits.items()
    }
    shot = snapshot.Snapshot(zero=snapshot.zero_of(plan.area, plan.service_day), problem={})
    routes = []
    for route in outcome["routes"]:
        crew = crews.get(snapshot.id_of(route["crew"]))
        stops = tuple(
            _stop(shot, stop, visits[snapshot.id_of(stop["visit"])], now_at, crew, words)
            for stop in route["stops"]
            if stop["visit"].startswith("v") and snapshot.id_of(stop["visit"]) in visits
        )
        if stops:
            routes.append(
                PlannedRoute(
                    crew=route["crew"] if crew is None else crew.name,
                    stops=stops,
                    ends_at=shot.at(route["end"]),
                    drive_min=round(route["driving_s"] / 60),
                    overtime_min=round(route["overtime_s"] / 60),
                )
            )
    return PlanPage(
        plan_id=plan.pk,
        day=plan.service_day,
        state=plan.state,
        state_word=plan.get_state_display(),
        zone=plan.area.zone,
        failure=plan.failure,
        routes=tuple(sorted(routes, key=lambda row: row.crew)),
        left_out=tuple(
            (visits[snapshot.id_of(row["visit"])].job.number, in_names(row["message"], names))
            for row in outcome["skipped"]
            if row["visit"].startswith("v") and snapshot.id_of(row["visit"]) in visits
        ),
        cost=tuple(CostTerm(COST_WORDS[name], value / 10_000) for name, value in outcome["cost"].items()),
        bound=_bound(outcome["bound"]),
        search=_search(outcome["search"]),
        progress=_progress(plan) if plan.state == Plan.State.ASKED else None,
        not_begun=plan.state == Plan.State.ASKED and not_begun(plan.pk),
        comparison=comparison(plan=plan, outcome=outcome, visits=visits, crews=crews, now_at=now_at),
        what_ifs=what_ifs(plan, asked_names),
    )


def _stop(
    shot: snapshot.Snapshot,
    stop: dict[str, int],
    visit: Visit,
    now_at: dict[int, Stop],
    crew: Crew | None,
    words: Mapping[int, tuple[Overridden, ...]],
) -> PlannedStop:
    at = shot.at(stop["start"])
    row = now_at.get(visit.pk)
    published = ""
    if row is not None and crew is not None and row.crew_id != crew.pk:
        published = f"now with {row.crew.name}"
    elif row is not None and row.start_at != at:
        published = f"now at {row.start_at.astimezone(shot.zero.tzinfo):%-I:%M %p}"
    what = f"{visit.get_kind_display()} in {visit.job.town}, {visit.job.state}"
    said = () if crew is None else words.get(crew.pk, ())
    mark = next((word.mark for word in said if word.is_for(job_id=visit.job_id) and word.at <= at < word.until), "")
    return PlannedStop(at, what, visit.job.number, published, mark)


def _progress(plan: Plan) -> Progress | None:
    """None until the planner has said its first word."""
    said = plan.progress
    if "cost" not in said:
        return None
    cost = f"Best plan so far: ${said['cost'] / 10_000:,.2f}"
    if said["first_cost"] > said["cost"]:
        cost += f", down from ${said['first_cost'] / 10_000:,.2f}"
    bound = "No bound yet."
    if said["bound"]:
        bound = (
            f"No plan at all costs less than ${said['bound'] / 10_000:,.2f}: a rough bound, from the shortest drive to "
            "each visit."
        )
    limit_s = plan.seconds
    elapsed_s = said["seconds"] if limit_s is None else min(said["seconds"], limit_s)
    return Progress(round(elapsed_s), limit_s, f"{cost}.", bound)


def _bound(bound: dict[str, object] | None) -> str:
    if bound is None:
        return "No bound is known for this plan."
    dollars = int(str(bound["value"])) / 10_000
    if bound["what"] == "proven":
        return f"Proven: no plan of this day costs less than ${dollars:,.2f}."
    return (
        f"Of the routes that were tried, no choice costs less than ${dollars:,.2f}. This is no proof of the best day."
    )


def _search(search: dict[str, object]) -> str:
    if not search:
        return ""
    return (
        f"{search['iterations']} tries in {search['seconds']} seconds, {search['routes_pooled']} routes kept, "
        f"seed {search['seed']}."
    )
