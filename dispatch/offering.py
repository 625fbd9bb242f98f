"""
Offers for an emergency: who can go, with what, when they would be there, and why not the others.

Offers are exact and change nothing.
"""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from dispatch import additions, agreed, crew_facts, eligibility, loads, outfit, routes, snapshot
from dispatch.crew_facts import CrewRow
from dispatch.eligibility import Reason
from dispatch.models import Crew
from dispatch.overrides import Overridden
from dispatch.planner.offers import Delay, Standing
from dispatch.planner.offers import Offer as PlannerOffer
from dispatch.planner.outlook import outlook_of
from dispatch.positions import LastKnown, last_known, steps_of
from dispatch.rationing import Scarce, capped, scarce
from dispatch.rules import bars, figure
from dispatch.wanted import Wanted, free_in_area, wanted_of_call
from dispatch.wording import in_names
from equipment.free_stock import FreePool
from equipment.models import Warehouse
from jobs.models import Area, Call, Job
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
    override: Overridden | None = None
    last: LastKnown | None = None
    lent_by: str = ""


@dataclass(frozen=True)
class NotOffered:
    """
    One crew that cannot go, with the binding rule, and all rules of who may go that stand against it.

    `may_override`: a manager may send it all the same; else `instead` says what would be right, rule by rule.
    """

    crew_id: int
    crew: str
    lead: str
    code: str
    reason: str
    reasons: tuple[str, ...] = ()
    may_override: bool = False
    instead: tuple[str, ...] = ()
    lent_by: str = ""


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
    scarce: tuple[Scarce, ...] = ()
    stabilizing: bool = False
    return_load: dict[str, int] = field(default_factory=dict)


def offers(*, call_id: int, now: datetime, stabilize: bool = False) -> Offers:
    """
    Rank every crew for a call, from what has been answered so far; nothing is written.

    With `stabilize` for a visit that leaves a few units and comes back: `return_load` is what it comes back with.

    :raises NotEnoughYet: if the call lacks what a crew needs (jobs.opening).
    """
    call = Call.objects.select_related("area").filter(pk=call_id).first()
    if call is None:
        raise NotThere(f"There is no call {call_id}.")
    pools = free_in_area(call.area, now)
    whole, report = wanted_of_call(call, now, pools)
    wanted = whole
    if stabilize:
        wanted = replace(whole, deliver=capped(whole.deliver), service_s=figure("stabilizing_seconds"))
    found = rank(area=call.area, wanted=wanted, report=report, now=now, call_id=call.pk)
    short = _scarce(call, whole.deliver, pools)
    if not stabilize:
        return replace(found, scarce=short)
    rest = loads.left_of(whole.deliver, found.first_load)
    return replace(found, needed=whole.deliver, second_load={}, scarce=short, stabilizing=True, return_load=rest)


def _scarce(call: Call, needed: dict[str, int], pools: list[FreePool]) -> tuple[Scarce, ...]:
    """Of which kinds there is not enough for this loss and for the other callers who wait; one query."""
    free: Counter[str] = Counter()
    stock: Counter[str] = Counter()
    for pool in pools:
        free[pool.kind] += max(0, pool.free)
        stock[pool.kind] += pool.stock
    waiting = Call.objects.filter(area=call.area, ended_at__isnull=True).exclude(pk=call.pk).count()
    return scarce(needed, free=free, stock=stock, waiting=waiting)


def rank(*, area: Area, wanted: Wanted, report: dict[str, Any], now: datetime, call_id: int | None = None) -> Offers:
    """Ask the planner for every crew at work now or soon; overrides are those of the call."""
    crews = crew_facts.crews_around(area_id=area.pk, now=now)
    rows = crew_facts.rows_of(crews, now=now)
    last = {key: last_known(crew=row.crew, steps=steps_of(row.stops), now=now) for key, row in _keyed(rows)}
    work = agreed.Work(wanted.skills, wanted.state, call_id=call_id)
    against = {snapshot.crew_key(row.crew.pk): agreed.reasons(row, work, now=now) for row in rows}
    words = {snapshot.crew_key(row.crew.pk): agreed.word_for(row, work, now=now) for row in rows}
    able = [row.crew.vehicle.capacity for row in rows if _able(snapshot.crew_key(row.crew.pk), against, words)]
    needed, wanted = wanted.deliver, replace(wanted, deliver=loads.first_load(wanted.deliver, able))
    warehouses = list(Warehouse.objects.filter(area=area).order_by("code"))
    held = outfit.aboard([crew.vehicle_id for crew in crews], now=now)
    shot = _shot(area, now, rows, wanted, work, held, warehouses)
    by_key = {snapshot.crew_key(crew.pk): crew for crew in crews}
    # Whoever has begun a route stays on it although their hours are over, but is given nothing new.
    unfit = {key: eligibility.why_not_fit(row.facts, at=max(now, row.crew.starts_at)) for key, row in _keyed(rows)}
    barred = {key: (reason.code, reason.message) for key, reason in unfit.items() if reason and words[key] is None}
    frame = routes.frame_for(shot)
    running, stuck = routes.running(frame, shot.routes)
    barred |= dict.fromkeys(stuck, ("day_full", "Its route already runs past its latest hour."))
    if stuck:
        # A crew whose day cannot hold any more is asked nothing; the others are asked without it.
        rows = [row for row in rows if snapshot.crew_key(row.crew.pk) not in stuck]
        shot = _shot(area, now, rows, wanted, work, held, warehouses)
        frame = routes.frame_for(shot)
        running, _ = routes.running(frame, shot.routes)
    outlooks = tuple(outlook_of(frame, number, route) for number, route in enumerate(running))
    answer = Standing(frame, outlooks).offers(NEW)
    jobs = {snapshot.visit_key(stop.visit_id): stop.visit.job for row in rows for stop in row.stops}
    ranked = [
        replace(
            _offer(shot, by_key[row.crew], row, held, warehouses, jobs),
            override=words[row.crew],
            last=last[row.crew],
        )
        for row in answer.offers
        if row.crew not in barred
    ]
    no = {row.crew: (row.code, row.message) for row in answer.not_offered} | barred
    refused = tuple(_refused(crew, no[key], against[key]) for key, crew in by_key.items() if key in no)
    ranked.sort(key=lambda row: (row.arrive_at, row.added_cost))
    far = figure("too_far_minutes")
    near = tuple(row for row in ranked if row.added_drive_min <= far * 2)
    too_far = tuple(
        NotOffered(
            row.crew_id,
            row.crew,
            row.lead,
            "too_far",
            f"More than {far} minutes of driving each way.",
            lent_by=row.lent_by,
        )
        for row in ranked
        if row not in near
    )
    rest = loads.left_of(needed, wanted.deliver)
    return Offers(needed, wanted.deliver, rest, near, (*refused, *too_far), report)


def _keyed(rows: list[CrewRow]) -> list[tuple[str, CrewRow]]:
    return [(snapshot.crew_key(row.crew.pk), row) for row in rows]


def _able(key: str, against: Mapping[str, tuple[Reason, ...]], words: Mapping[str, Overridden | None]) -> bool:
    """Whether nothing but time and room can keep the crew from the visit."""
    return not against[key] or words[key] is not None


def _shot(
    area: Area,
    now: datetime,
    rows: list[CrewRow],
    wanted: Wanted,
    work: agreed.Work,
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
        additions.add_stock(shot, warehouse=warehouse, have=in_store[warehouse.pk])
    additions.add_wanted(
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
    agreed.agree(shot.problem, rows, {NEW: work}, now=now, limited=[key for key, _ in shot.limited])
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
        lent_by=lender(crew),
    )


def _change(jobs: Mapping[str, Job], change: Delay) -> dict[str, Any]:
    job = jobs.get(change.visit)
    named = {} if job is None else {"job": job.number, "town": job.town}
    return {"visit": change.visit, "by_min": round(change.by_s / 60), **named}


def lender(crew: Crew) -> str:
    """The firm that lends us the crew; empty for a crew of ours."""
    return "" if crew.loan is None else crew.loan.firm


def _refused(crew: Crew, no: tuple[str, str], against: tuple[Reason, ...]) -> NotOffered:
    """The planner says which rule binds; cards and licenses are told by name and date, crews by their own names."""
    code, message = no
    message = in_names(message, {snapshot.crew_key(crew.pk): crew.name})
    told = next((reason for reason in against if reason.code == code), None)
    rules = [bars()[reason.rule] for reason in against]
    return NotOffered(
        crew_id=crew.pk,
        crew=crew.name,
        lead=crew.lead.name,
        code=code,
        reason=message if told is None else told.message,
        reasons=tuple(reason.message for reason in against),
        may_override=bool(rules) and all(rule.override for rule in rules),
        instead=tuple(dict.fromkeys(rule.instead for rule in rules if not rule.override)),
        lent_by=lender(crew),
    )
