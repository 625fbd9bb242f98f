"""
Offers for an emergency: who can go, with what, when they would be there, and why not the others.

Offers are exact and change nothing.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Q

from dispatch import crew_facts, eligibility, loads, outfit, routes, snapshot
from dispatch.models import Crew
from dispatch.planner.offers import Delay, Standing
from dispatch.planner.offers import Offer as PlannerOffer
from dispatch.planner.outlook import outlook_of
from dispatch.rules import figure
from dispatch.wording import in_names
from equipment import sizing_reports
from equipment.free_stock import free_pools
from equipment.models import Holder, Warehouse
from equipment.own_catalogue import catalogue
from jobs import loss, opening
from jobs.models import Area, Call, Job, PayerRule
from jobs.refusals import NotThere

NEW = "new"


@dataclass(frozen=True)
class Fetch:
    """A stop at a warehouse on the way, to load what is missing."""

    warehouse_id: int
    warehouse: str
    take: dict[str, int]
    arrive_at: datetime
    leave_at: datetime


@dataclass(frozen=True)
class Offer:
    """One crew that can go, ranked by when it is there and what it costs."""

    crew_id: int
    crew: str
    lead: str
    helper: str
    vehicle: str
    arrive_at: datetime
    added_drive_min: int
    added_cost: int
    aboard: dict[str, int]
    fetch: Fetch | None
    moved: tuple[dict[str, Any], ...]
    made_late: tuple[dict[str, Any], ...]
    missing: dict[str, int]
    on_call: bool


@dataclass(frozen=True)
class NotOffered:
    """One crew that cannot go, with the binding rule."""

    crew_id: int
    crew: str
    lead: str
    code: str
    reason: str


@dataclass(frozen=True)
class Offers:
    """
    Every crew stands in exactly one of the two lists.

    `needed` is the whole estimate; `first_load` what one vehicle takes of it, `second_load` what must follow.
    """

    needed: dict[str, int]
    first_load: dict[str, int]
    second_load: dict[str, int]
    offers: tuple[Offer, ...]
    not_offered: tuple[NotOffered, ...]
    report: dict[str, Any]


@dataclass(frozen=True)
class Wanted:
    """What the planner must know of a loss that has no visit row yet."""

    lat: float
    lon: float
    state: str
    skills: tuple[str, ...]
    deliver: dict[str, int]
    service_s: int
    due_at: datetime | None


def offers(*, call_id: int, now: datetime) -> Offers:
    """
    Rank every crew for a call, from what has been answered so far; nothing is written.

    :raises NotEnoughYet: if the call lacks what a crew needs (jobs.opening).
    """
    call = Call.objects.select_related("area").filter(pk=call_id).first()
    if call is None:
        raise NotThere(f"There is no call {call_id}.")
    told = loss_of(call)
    report = _whole_stock_report(call.area, told, now)
    return rank(area=call.area, wanted=wanted_for(call, told, report, now), report=report, now=now)


def loss_of(call: Call) -> dict[str, Any]:
    """
    The call's loss in the sizing port's words; one wet room of unknown size where rooms were only counted.

    :raises NotEnoughYet: if the call lacks what a crew needs.
    """
    opening.enough(call)
    told = loss.of_call(call)
    if told is None:
        raise TypeError("a call that says enough has a room with a size")
    return told


def wanted_for(call: Call, told: dict[str, Any], report: dict[str, Any], now: datetime) -> Wanted:
    """From the call and its sizing to the visit as the planner sees it."""
    place = opening.enough(call)
    classes = [chamber["class"] for chamber in report["chambers"] if chamber["class"]]
    rooms = [room for chamber in told["chambers"] for room in chamber["rooms"]]
    paint = max((room.get("painted_sqft_disturbed") or 0 for room in rooms), default=0)
    old = told["year_built"] is None or told["year_built"] < figure("lead_paint_before_year")
    skills = eligibility.skills_wanted(
        category=told["category"],
        drying_class=max(classes, default=None),
        mold=bool(told["mould_sqft"]),
        paint=old and paint > figure("lead_paint_sqft"),
        state=place.state,
    )
    count = sum(room.get("count") or 1 for room in rooms)
    service_s = figure("first_visit_seconds") + figure("first_visit_seconds_a_room") * max(0, count - 2)
    minutes = _arrival_minutes(call, now)
    return Wanted(
        lat=place.lat,
        lon=place.lon,
        state=place.state,
        skills=tuple(skills),
        deliver=outfit.counts_by_kind(report),
        service_s=service_s,
        due_at=None if minutes is None else call.started_at + timedelta(minutes=minutes),
    )


def _arrival_minutes(call: Call, now: datetime) -> int | None:
    """The payer's own clock for arrival, where it has one on this day."""
    told = call.answers.get("payer", "")
    if not told:
        return None
    on = now.astimezone(call.area.zone).date()
    rules = PayerRule.objects.filter(Q(payer__code__iexact=told) | Q(payer__name__iexact=told), valid_from__lte=on)
    rule = rules.filter(Q(valid_until__isnull=True) | Q(valid_until__gt=on)).order_by("-valid_from").first()
    return None if rule is None else rule.arrival_minutes


def rank(*, area: Area, wanted: Wanted, report: dict[str, Any], now: datetime) -> Offers:
    """Ask the planner for every crew at work now or soon."""
    crews = crew_facts.crews_around(area_id=area.pk, now=now)
    rows = crew_facts.rows_of(crews, now=now)
    facts = {snapshot.crew_key(row.crew.pk): row.facts for row in rows}
    on = now.astimezone(area.zone).date()
    able = [row.crew.vehicle.capacity for row in rows if _able(row.facts, wanted, on, now)]
    needed, wanted = wanted.deliver, replace(wanted, deliver=loads.first_load(wanted.deliver, able))
    warehouses = list(Warehouse.objects.filter(area=area).order_by("code"))
    held = outfit.aboard([crew.vehicle_id for crew in crews], now=now)
    shot = _shot(area, now, rows, wanted, held, warehouses)
    by_key = {snapshot.crew_key(crew.pk): crew for crew in crews}
    barred = {key: (reason.code, reason.message) for key, reason in shot.barred}
    frame = routes.frame_for(shot)
    running, stuck = routes.running(frame, shot.routes)
    barred |= dict.fromkeys(stuck, ("day_full", "Its route already runs past its latest hour."))
    if stuck:
        # A crew whose day cannot hold any more is asked nothing; the others are asked without it.
        rows = [row for row in rows if snapshot.crew_key(row.crew.pk) not in stuck]
        shot = _shot(area, now, rows, wanted, held, warehouses)
        frame = routes.frame_for(shot)
        running, _ = routes.running(frame, shot.routes)
    outlooks = tuple(outlook_of(frame, number, route) for number, route in enumerate(running))
    answer = Standing(frame, outlooks).offers(NEW)
    jobs = {snapshot.visit_key(stop.visit_id): stop.visit.job for row in rows for stop in row.stops}
    ranked = [
        _offer(shot, by_key[row.crew], row, held, warehouses, jobs) for row in answer.offers if row.crew not in barred
    ]
    no = {row.crew: (row.code, row.message) for row in answer.not_offered} | barred
    refused = tuple(
        NotOffered(crew.pk, crew.name, crew.lead.name, *_in_words(key, crew.name, no[key], facts[key], wanted, on))
        for key, crew in by_key.items()
        if key in no
    )
    ranked.sort(key=lambda row: (row.arrive_at, row.added_cost))
    far = figure("too_far_minutes")
    near = tuple(row for row in ranked if row.added_drive_min <= far * 2)
    too_far = tuple(
        NotOffered(row.crew_id, row.crew, row.lead, "too_far", f"More than {far} minutes of driving each way.")
        for row in ranked
        if row not in near
    )
    rest = loads.left_of(needed, wanted.deliver)
    return Offers(needed, wanted.deliver, rest, near, (*refused, *too_far), report)


def _able(facts: eligibility.CrewFacts, wanted: Wanted, on: date, now: datetime) -> bool:
    """Whether nothing but time and room can keep the crew from the visit."""
    reasons = (
        eligibility.why_not_fit(facts, at=max(now, facts.starts_at)),
        eligibility.why_not_skilled(facts, wanted.skills, on=on),
        eligibility.why_not_in_state(facts, wanted.state),
    )
    return not any(reasons)


def _whole_stock_report(area: Area, facts_loss: dict[str, Any], now: datetime) -> dict[str, Any]:
    """The sizing against everything that is free in the area: how many units of each kind the loss asks for."""
    starts_at, ends_at = outfit.stay_of(now)
    ours = Q(kind__in=[Holder.Kind.WAREHOUSE, Holder.Kind.VEHICLE])
    places = list(Holder.objects.filter(ours, area=area).values_list("pk", flat=True))
    free = free_pools(place_ids=places, starts_at=starts_at, ends_at=ends_at)
    return sizing_reports.report_for({**facts_loss, "catalogue": catalogue(free)})


def _shot(
    area: Area,
    now: datetime,
    rows: list[crew_facts.CrewRow],
    wanted: Wanted,
    held: dict[int, dict[str, int]],
    warehouses: list[Warehouse],
) -> snapshot.Snapshot:
    in_store = outfit.in_warehouses([warehouse.pk for warehouse in warehouses], now=now)
    shot = snapshot.build(
        area=area,
        day=now.astimezone(area.zone).date(),
        now=now,
        rows=rows,
        visits=[],
        aboard=held,
        keep=True,
        soft=True,
    )
    for warehouse in warehouses:
        snapshot.add_stock(shot, warehouse=warehouse, have=in_store[warehouse.pk])
    snapshot.add_wanted(
        shot,
        name=NEW,
        lat=wanted.lat,
        lon=wanted.lon,
        service_s=wanted.service_s,
        skills=wanted.skills,
        state=wanted.state,
        deliver=wanted.deliver,
        due_at=wanted.due_at,
    )
    return shot


def _offer(
    shot: snapshot.Snapshot,
    crew: Crew,
    row: PlannerOffer,
    held: dict[int, dict[str, int]],
    warehouses: list[Warehouse],
    jobs: Mapping[str, Job],
) -> Offer:
    fetch = None
    if row.fetch is not None:
        warehouse = next(warehouse for warehouse in warehouses if warehouse.code == row.fetch.place)
        fetch = Fetch(
            warehouse.pk, warehouse.name, dict(row.fetch.take), shot.at(row.fetch.arrive_s), shot.at(row.fetch.leave_s)
        )
    return Offer(
        crew_id=crew.pk,
        crew=crew.name,
        lead=crew.lead.name,
        helper="" if crew.helper is None else crew.helper.name,
        vehicle=crew.vehicle.name,
        arrive_at=shot.at(row.start_s),
        added_drive_min=round(row.added_driving_s / 60),
        added_cost=row.added_cost,
        aboard=held.get(crew.vehicle_id, {}),
        fetch=fetch,
        moved=tuple(_change(jobs, change) for change in row.moved),
        made_late=tuple(_change(jobs, change) for change in row.made_late),
        missing=dict(row.missing),
        on_call=crew.on_call,
    )


def _change(jobs: Mapping[str, Job], change: Delay) -> dict[str, Any]:
    job = jobs.get(change.visit)
    named = {} if job is None else {"job": job.number, "town": job.town}
    return {"visit": change.visit, "by_min": round(change.by_s / 60), **named}


def _in_words(
    key: str, name: str, no: tuple[str, str], facts: eligibility.CrewFacts, wanted: Wanted, on: date
) -> tuple[str, str]:
    """The planner says which rule binds; cards and licenses are told by name and date, crews by their own names."""
    code, message = no
    message = in_names(message, {key: name})
    reason = None
    if code == "skills":
        reason = eligibility.why_not_skilled(facts, wanted.skills, on=on)
    elif code == "state":
        reason = eligibility.why_not_in_state(facts, wanted.state)
    return (code, message) if reason is None else (reason.code, reason.message)
