"""A plan against the routes that are published: who moves, by how much, whom to tell, and what moving is worth."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils.dateparse import parse_datetime

from dispatch import snapshot
from dispatch.models import Crew, Plan, Stop
from jobs.models import Visit

MOST_ROWS = 40
PER_DOLLAR = 10_000


@dataclass(frozen=True)
class OnRoute:
    """Where a visit stands: its crew and the start of service."""

    crew_id: int
    crew: str
    start_at: datetime


@dataclass(frozen=True)
class Change:
    """One visit that the plan treats otherwise; a missing side is a visit that is new, or left out."""

    job_number: str
    what: str
    before: OnRoute | None
    after: OnRoute | None
    moved_min: int
    price_dollars: float
    tell: tuple[str, ...]
    why: str

    @property
    def moved(self) -> str:
        """Minutes later or earlier, in words."""
        if self.before is None:
            return "newly in"
        if self.after is None:
            return "left out"
        if self.moved_min == 0:
            return "same time"
        return f"{abs(self.moved_min)} min {'later' if self.moved_min > 0 else 'earlier'}"


@dataclass(frozen=True)
class Comparison:
    """Every change, at most `MOST_ROWS` shown, and the dollars: what moving is priced at, what it saves."""

    shown: tuple[Change, ...]
    more: int
    unchanged: int
    worth: str


def comparison(
    *,
    plan: Plan,
    outcome: Mapping[str, Any],
    visits: Mapping[int, Visit],
    crews: Mapping[int, Crew],
    now_at: Mapping[int, Stop],
) -> Comparison | None:
    """
    The plan stop by stop against what is published, or against what it replaced; None where nothing was published.

    :param visits: with their jobs and the jobs' contacts.
    :param now_at: the stops of these visits on the routes of today, with their crews.
    """
    before = _before(plan, crews, now_at)
    if not before:
        return None
    shot = snapshot.Snapshot(zero=snapshot.zero_of(plan.area, plan.service_day), problem={})
    after = {
        snapshot.id_of(stop["visit"]): OnRoute(crew.pk, crew.name, shot.at(stop["start"]))
        for route in outcome["routes"]
        if (crew := crews.get(snapshot.id_of(route["crew"]))) is not None
        for stop in route["stops"]
        if stop["visit"].startswith("v")
    }
    priced = {row["id"]: row for row in (plan.problem or {}).get("visits", [])}
    changes = []
    for pk, visit in visits.items():
        old, new = before.get(pk), after.get(pk)
        if (old is None and new is None) or _same(old, new):
            continue
        changes.append(_change(visit, old, new, priced.get(snapshot.visit_key(pk), {}), shot))
    changes.sort(
        key=lambda row: (row.before is not None and row.after is not None, -abs(row.moved_min), row.job_number)
    )
    same = sum(_same(before.get(pk), place) for pk, place in after.items())
    return Comparison(tuple(changes[:MOST_ROWS]), max(0, len(changes) - MOST_ROWS), same, _worth(plan, outcome))


def _before(plan: Plan, crews: Mapping[int, Crew], now_at: Mapping[int, Stop]) -> dict[int, OnRoute]:
    """A draft is laid against the routes as they are, a published plan against what it replaced."""
    if plan.state != Plan.State.PUBLISHED:
        return {pk: OnRoute(row.crew_id, row.crew.name, row.start_at) for pk, row in now_at.items()}
    found: dict[int, OnRoute] = {}
    for row in plan.progress.get("before", []):
        start_at, crew = parse_datetime(row["start_at"]), crews.get(row["crew_id"])
        if start_at is not None:
            name = "a crew of another day" if crew is None else crew.name
            found[row["visit_id"]] = OnRoute(row["crew_id"], name, start_at)
    return found


def _same(old: OnRoute | None, new: OnRoute | None) -> bool:
    return old is not None and new is not None and (old.crew_id, old.start_at) == (new.crew_id, new.start_at)


def _change(
    visit: Visit, old: OnRoute | None, new: OnRoute | None, priced: Mapping[str, Any], shot: snapshot.Snapshot
) -> Change:
    moved_s = 0 if old is None or new is None else round((new.start_at - old.start_at).total_seconds())
    return Change(
        job_number=visit.job.number,
        what=f"{visit.get_kind_display()} in {visit.job.town}, {visit.job.state}",
        before=old,
        after=new,
        moved_min=round(moved_s / 60),
        price_dollars=_price(priced, old, new, shot) / PER_DOLLAR,
        tell=_tell(visit, old, new, moved_s),
        why=_why(old, new, moved_s),
    )


def _why(old: OnRoute | None, new: OnRoute | None, moved_s: int) -> str:
    if old is None:
        return "It stands on no published route yet."
    if new is None:
        return "See why it is left out, above."
    if old.crew_id != new.crew_id:
        return f"{new.crew} takes it over from {old.crew}."
    return f"{new.crew} has {'other' if moved_s > 0 else 'fewer'} stops before it now."


def _price(priced: Mapping[str, Any], old: OnRoute | None, new: OnRoute | None, shot: snapshot.Snapshot) -> int:
    """What the plan pays for this one change: for the promise that moves, and for another crew at the door."""
    if old is None or new is None or not priced:
        return 0
    prefer = priced.get("prefer", {})
    price = int(prefer.get(snapshot.crew_key(new.crew_id), prefer.get("*", 0)))
    if priced.get("promised") is not None:
        moved_s = abs(round((new.start_at - shot.zero).total_seconds()) - priced["promised"])
        price += priced["per_moved_second"] * moved_s
    return price


def _tell(visit: Visit, old: OnRoute | None, new: OnRoute | None, moved_s: int) -> tuple[str, ...]:
    """The customer where the hour changes, and each crew that gains, loses or shifts the stop."""
    people: list[str] = []
    if old is None or new is None or moved_s:
        people += [_contact(visit)]
    people += list(dict.fromkeys(place.crew for place in (old, new) if place is not None))
    return tuple(people)


def _contact(visit: Visit) -> str:
    contacts = sorted(visit.job.contacts.all(), key=lambda row: (not row.lets_in, row.pk))
    if not contacts:
        return "the customer"
    first = contacts[0]
    return " ".join(part for part in (first.name or first.role, first.phone) if part)


def _worth(plan: Plan, outcome: Mapping[str, Any]) -> str:
    """The price of moving against what it saves, in one sentence; empty where the published routes were not priced."""
    was, cost = plan.progress.get("published_cost"), outcome["cost"]
    if not was or not cost:
        return ""
    price = cost["moved"] + cost["preference"] - was["moved"] - was["preference"]
    gain = was["total"] - cost["total"]
    words = (
        f"With the published routes kept, the day would cost {_dollars(was['total'])}; this plan costs "
        f"{_dollars(cost['total'])}."
    )
    if gain <= 0:
        return f"{words} Nothing is gained by moving more."
    if price <= 0:
        return f"{words} It saves {_dollars(gain)}, with nothing to pay for moved promises or changed crews."
    return (
        f"{words} Moved promises and changed crews are priced at {_dollars(price)}; what they make possible saves "
        f"{_dollars(gain + price)}, so {_dollars(gain)} is left."
    )


def _dollars(units: int) -> str:
    return f"${units / PER_DOLLAR:,.2f}"
