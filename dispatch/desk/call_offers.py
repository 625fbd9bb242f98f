"""The offers in a dispatcher's words."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID, uuid4

from dispatch.desk.call_estimate import in_words
from dispatch.offering import Fetch, NotOffered, Offers
from dispatch.overrides import Overridden
from dispatch.positions import LastKnown
from dispatch.rationing import Scarce, capped
from dispatch.rules import figure


@dataclass(frozen=True)
class OfferRow:
    """One crew that can go; `key` is the key of sending it."""

    key: UUID
    crew_id: int
    crew: str
    lead: str
    helper: str
    vehicle: str
    on_call: bool
    arrive_at: datetime
    added_drive_min: int
    aboard_words: str
    fetch: Fetch | None
    fetch_words: str
    missing_words: str
    moved: tuple[dict[str, Any], ...]
    made_late: tuple[dict[str, Any], ...]
    override: Overridden | None
    last: LastKnown | None
    lent_by: str


@dataclass(frozen=True)
class BarredRow:
    """One crew that cannot go with every reason; `key` is the key of overriding them, where that is possible."""

    key: UUID
    crew_id: int
    crew: str
    lead: str
    reasons: tuple[str, ...]
    may_override: bool
    instead: str
    lent_by: str


@dataclass(frozen=True)
class OffersShown:
    """Every crew in one of two lists, and what the loss needs."""

    needed_words: str
    second_load_words: str
    rows: tuple[OfferRow, ...]
    not_offered: tuple[BarredRow, ...]
    scarce: tuple[str, ...]
    stabilizing: bool
    first_load_words: str
    return_words: str
    cap_words: str
    return_hours: int


def shown(offers: Offers) -> OffersShown:
    """What the page shows of the offers."""
    rows = tuple(
        OfferRow(
            uuid4(),
            offer.crew_id,
            offer.crew,
            offer.lead,
            offer.helper,
            offer.vehicle,
            offer.on_call,
            offer.arrive_at,
            offer.added_drive_min,
            in_words({kind: count for kind, count in offer.aboard.items() if kind in offers.needed}),
            offer.fetch,
            in_words(offer.fetch.take) if offer.fetch else "",
            in_words(offer.missing),
            offer.moved,
            offer.made_late,
            offer.override,
            offer.last,
            offer.lent_by,
        )
        for offer in offers.offers
    )
    barred = tuple(map(_barred, offers.not_offered))
    return OffersShown(
        needed_words=in_words(offers.needed),
        second_load_words=in_words(offers.second_load),
        rows=rows,
        not_offered=barred,
        scarce=tuple(map(_scarce, offers.scarce)),
        stabilizing=offers.stabilizing,
        first_load_words=in_words(offers.first_load),
        return_words=in_words(offers.return_load),
        cap_words=in_words(capped(offers.needed)),
        return_hours=figure("stabilizing_return_hours"),
    )


def _scarce(row: Scarce) -> str:
    others = f", and {row.waiting} other caller{'s' if row.waiting != 1 else ''} wait{'' if row.waiting != 1 else 's'}"
    return (
        f"{in_words({row.kind: row.wanted})} wanted, {row.free} free, of which {row.reserve} are kept back"
        f"{others if row.waiting else ''}: {row.short} short."
    )


def _barred(row: NotOffered) -> BarredRow:
    reasons = row.reasons if row.reason in row.reasons else (row.reason, *row.reasons)
    instead = "; or ".join(row.instead)
    return BarredRow(uuid4(), row.crew_id, row.crew, row.lead, reasons, row.may_override, instead, row.lent_by)
