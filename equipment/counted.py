"""
Counted accessories and consumables: cords, hoses, poly, filters. They have no numbers, only how many are where.

The floor wins here too: what was taken was there, so taking more than the record has leaves none and says so.
"""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.contrib.auth.models import User

from equipment.models import CountedStock, Holder
from jobs import journal
from jobs.refusals import NotThere, Unusable
from jobs.use_case import use_case

MOST = 100_000


@dataclass(frozen=True)
class CountedNow:
    """What is there now. `caution` says that the record had fewer than were taken, or that the least is not reached."""

    place: str
    item: str
    unit_word: str
    quantity: int
    minimum: int
    caution: str = ""


@use_case("take_counted")
def take_counted(
    *, key: UUID, actor: User, now: datetime, place_id: int, item: str, quantity: int, job_id: int | None = None
) -> CountedNow:
    """
    Take so many away to be used.

    :param place_id: the holder that they are taken from: a warehouse or a vehicle.
    :raises NotThere: if the place or the item there is not known.
    :raises Unusable: if the number cannot be meant.
    """
    _at_least_one(quantity)
    row = _locked(place_id, item)
    return _changed(row, row.quantity - quantity, "counted_taken", actor, now, job=job_id)


@use_case("add_counted")
def add_counted(
    *, key: UUID, actor: User, now: datetime, place_id: int, item: str, quantity: int, unit_word: str = "each"
) -> CountedNow:
    """
    Put so many there: bought, or brought back. An item that was not kept there before is kept there from now on.

    :raises NotThere: if the place is not known.
    :raises Unusable: if the number or the item cannot be meant.
    """
    _at_least_one(quantity)
    _keep(_place(place_id), item := item.strip(), unit_word, now)
    row = _locked(place_id, item)
    return _changed(row, row.quantity + quantity, "counted_added", actor, now)


@use_case("move_counted")
def move_counted(
    *, key: UUID, actor: User, now: datetime, from_place_id: int, to_place_id: int, item: str, quantity: int
) -> tuple[CountedNow, CountedNow]:
    """
    Move so many from one place to another, as when a vehicle is loaded; how many are at each now.

    :raises NotThere: if a place, or the item at the first, is not known.
    :raises Unusable: if the number cannot be meant, or both places are the same.
    """
    _at_least_one(quantity)
    if from_place_id == to_place_id:
        raise Unusable("Both places are the same. Choose where they go.", where="to_place_id")
    known = CountedStock.objects.filter(place=from_place_id, item=item).first()
    if known is None:
        raise _not_kept(_place(from_place_id), item)
    _keep(_place(to_place_id), item, known.unit_word, now)
    # In one order, whichever way things go, so that two moves that cross never wait for each other.
    both = CountedStock.objects.filter(place__in=[from_place_id, to_place_id], item=item)
    rows = {row.place_id: row for row in both.select_for_update().order_by("pk")}
    source, target = rows[from_place_id], rows[to_place_id]
    return (
        _changed(source, source.quantity - quantity, "counted_moved", actor, now, to=target.place_id),
        _changed(target, target.quantity + quantity, "counted_moved", actor, now, came_from=source.place_id),
    )


@use_case("count_counted")
def count_counted(
    *, key: UUID, actor: User, now: datetime, place_id: int, counts: tuple[tuple[str, int], ...]
) -> tuple[CountedNow, ...]:
    """
    Say how many there really are, item by item; the record follows, and the old number stays in the journal.

    :raises NotThere: if the place or an item there is not known.
    :raises Unusable: if a number cannot be meant.
    """
    if not counts:
        raise Unusable("Nothing was counted. Write how many there are of at least one item.", where="counts")
    told = []
    for item, quantity in sorted(dict(counts).items()):
        if not 0 <= quantity <= MOST:
            raise Unusable(f"{quantity} is no count. Write 0 to {MOST}.", where="counts")
        row = _locked(place_id, item)
        row.counted_at = max(row.counted_at, now)
        told.append(_changed(row, quantity, "counted_counted", actor, now))
    return tuple(told)


@use_case("set_counted_minimum")
def set_counted_minimum(*, key: UUID, actor: User, now: datetime, place_id: int, item: str, minimum: int) -> CountedNow:
    """
    Say how many there should be at least.

    :raises NotThere: if the place or the item there is not known.
    :raises Unusable: if the number cannot be meant.
    """
    if not 0 <= minimum <= MOST:
        raise Unusable(f"{minimum} is no least number. Write 0 to {MOST}.", where="minimum")
    row = _locked(place_id, item)
    was, row.minimum = row.minimum, minimum
    row.save(update_fields=["minimum"])
    data = {"counted": row.pk, "was": was, "minimum": minimum}
    journal.note(kind="counted_minimum_set", actor=actor, now=now, area_id=row.place.area_id, data=data)
    return _told(row)


def _at_least_one(quantity: int) -> None:
    if not 1 <= quantity <= MOST:
        raise Unusable(f"{quantity} is no number to take or add. Write 1 to {MOST}.", where="quantity")


def _place(place_id: int) -> Holder:
    ours = (Holder.Kind.WAREHOUSE, Holder.Kind.VEHICLE)
    place = Holder.objects.filter(pk=place_id, kind__in=ours).first()
    if place is None:
        raise NotThere("There is no such warehouse or vehicle. Choose one from the list.", where="place_id")
    return place


def _not_kept(place: Holder, item: str) -> NotThere:
    return NotThere(f"{item!r} is not kept at {place}. Choose an item from its list, or add some first.", where="item")


def _locked(place_id: int, item: str) -> CountedStock:
    row = (
        CountedStock.objects.select_for_update(of=("self",))
        .select_related("place")
        .filter(place=_place(place_id), item=item)
        .first()
    )
    if row is None:
        raise _not_kept(_place(place_id), item)
    return row


def _keep(place: Holder, item: str, unit_word: str, now: datetime) -> None:
    """Make the item's row at the place where there is none; locks nothing that is there."""
    if not item or len(item) > 60 or not item.isprintable():
        raise Unusable("Name the item in at most 60 characters.", where="item")
    CountedStock.objects.bulk_create(
        [CountedStock(place=place, item=item, unit_word=unit_word.strip()[:20] or "each", quantity=0, counted_at=now)],
        ignore_conflicts=True,
    )


def _changed(row: CountedStock, quantity: int, kind: str, actor: User, now: datetime, **more: int | None) -> CountedNow:
    if quantity > MOST:
        raise Unusable(f"{quantity} {row.item} at one place cannot be meant. Count again.", where="quantity")
    was, row.quantity = row.quantity, max(0, quantity)
    row.save(update_fields=["quantity", "counted_at"])
    data = {"counted": row.pk, "was": was, "is": row.quantity, **{k: v for k, v in more.items() if v is not None}}
    journal.note(kind=kind, actor=actor, now=now, area_id=row.place.area_id, data=data)
    return _told(row, f"The record had {was} here: count again at a quiet time." if quantity < 0 else "")


def _told(row: CountedStock, caution: str = "") -> CountedNow:
    if not caution and row.quantity < row.minimum:
        caution = f"Below the least there should be at {row.place}: {row.quantity} of {row.minimum}."
    return CountedNow(str(row.place), row.item, row.unit_word, row.quantity, row.minimum, caution)
