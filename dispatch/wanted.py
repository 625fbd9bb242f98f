"""What the call says of the work, as the planner must know it: place, skills, load and time at the door."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db.models import Q

from dispatch import eligibility, outfit
from dispatch.rules import figure
from equipment import sizing_reports
from equipment.free_stock import FreePool, free_pools
from equipment.models import Holder
from equipment.own_catalogue import catalogue
from jobs import loss, opening
from jobs.models import Area, Call, PayerRule


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


def wanted_of_call(call: Call, now: datetime, free: Sequence[FreePool] | None = None) -> tuple[Wanted, dict[str, Any]]:
    """
    What the call asks for, from what has been answered so far, with the sizing report behind it.

    :param free: the pools of the area, where they were read already.

    :raises NotEnoughYet: if the call lacks what a crew needs (jobs.opening).
    """
    told = loss_of(call)
    pools = free_in_area(call.area, now) if free is None else free
    # Sized against everything that is free in the area: how many units of each kind the loss asks for.
    report = sizing_reports.report_for({**told, "catalogue": catalogue(pools)})
    return wanted_for(call, told, report, now), report


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
        building=str(call.answers.get("building", "")),
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


def free_in_area(area: Area, now: datetime) -> list[FreePool]:
    """Every pool of the area's warehouses and vehicles, over the time of a first load; three queries."""
    starts_at, ends_at = outfit.stay_of(now)
    ours = Q(kind__in=[Holder.Kind.WAREHOUSE, Holder.Kind.VEHICLE])
    places = list(Holder.objects.filter(ours, area=area).values_list("pk", flat=True))
    return free_pools(place_ids=places, starts_at=starts_at, ends_at=ends_at)
