"""
Counted accessories and consumables: cords, hoses, poly, filters. They have no numbers, only how many are where.

The floor wins here too: what was taken was there, so taking more than the record has leaves none and says so. What is
reported late settles by `happened_at`: a count stands against what happened before it, and keeps what happened after.
"""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.contrib.auth.models import User

from equipment import alarms
from equipment.models import CountedStock, Holder
from jobs import journal
from jobs.models import JournalEntry
from jobs.refusals import NotThere, Unusable
from jobs.use_case import use_case

MOST = 100_000
SHORT = "counted_short"
TAKEN, ADDED, MOVED, COUNTED = "counted_taken", "counted_added", "counted_moved", "counted_counted"
COUNTED_SINCE = "It was counted here since then; that count stands."


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
    *,
    key: UUID,
    actor: User,
    now: datetime,
    place_id: int,
    item: str,
    quantity: int,
    job_id: int | None = None,
    happened_at: datetime | None = None,
) -> CountedNow:
    """
    Take so many away to be used.

    :param place_id: the holder that they are taken from: a warehouse or a vehicle.
    :raises NotThere: if the place or the item there is not known.
    :raises Unusable: if the number cannot be meant.
    """
    _at_least_one(quantity)
    row = _locked(place_id, item)
    return _shifted(row, -quantity, _Deed(TAKEN, actor, now, happened_at), job=job_id)


@use_case("add_counted")
def add_counted(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    place_id: int,
    item: str,
    quantity: int,
    unit_word: str = "each",
    happened_at: datetime | None = None,
) -> CountedNow:
    """
    Put so many there: bought, or brought back. An item that was not kept there before is kept there from now on.

    :raises NotThere: if the place is not known.
    :raises Unusable: if the number or the item cannot be meant.
    """
    _at_least_one(quantity)
    deed = _Deed(ADDED, actor, now, happened_at)
    _keep(_place(place_id), item := item.strip(), unit_word, deed.at)
    return _shifted(_locked(place_id, item), quantity, deed)


@use_case("move_counted")
def move_counted(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    from_place_id: int,
    to_place_id: int,
    item: str,
    quantity: int,
    happened_at: datetime | None = None,
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
    deed = _Deed(MOVED, actor, now, happened_at)
    _keep(_place(to_place_id), item, known.unit_word, deed.at)
    # In one order, whichever way things go, so that two moves that cross never wait for each other.
    both = CountedStock.objects.filter(place__in=[from_place_id, to_place_id], item=item)
    rows = {row.place_id: row for row in both.select_for_update().order_by("pk")}
    source, target = rows[from_place_id], rows[to_place_id]
    return (
        _shifted(source, -quantity, deed, to=target.place_id),
        _shifted(target, quantity, deed, came_from=source.place_id),
    )


@use_case("count_counted")
def count_counted(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    place_id: int,
    counts: tuple[tuple[str, int], ...],
    happened_at: datetime | None = None,
) -> tuple[CountedNow, ...]:
    """
    Say how many there really are, item by item; the record follows, and the old number stays in the journal.
    What was taken and added since `happened_at` is counted on; a later count stands.

    :raises NotThere: if the place or an item there is not known.
    :raises Unusable: if a number cannot be meant.
    """
    if not counts:
        raise Unusable("Nothing was counted. Write how many there are of at least one item.", where="counts")
    told, deed = [], _Deed(COUNTED, actor, now, happened_at)
    for item, quantity in sorted(dict(counts).items()):
        if not 0 <= quantity <= MOST:
            raise Unusable(f"{quantity} is no count. Write 0 to {MOST}.", where="counts")
        row = _locked(place_id, item)
        if deed.at < row.counted_at:
            told.append(_changed(row, row.quantity, deed, COUNTED_SINCE))
            continue
        row.counted_at = deed.at
        told.append(_changed(row, quantity + _since(row, deed), deed))
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
    _warn(row, actor, now)
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


@dataclass(frozen=True)
class _Deed:
    """What was done, by whom, when we learned of it, and when it happened."""

    kind: str
    actor: User
    now: datetime
    happened_at: datetime | None

    @property
    def at(self) -> datetime:
        """When it happened: by now at the latest."""
        return min(self.happened_at or self.now, self.now)


def _since(row: CountedStock, deed: _Deed) -> int:
    """By how much the record rose since then, by what is known to have happened later."""
    if deed.at == deed.now:
        return 0
    later = JournalEntry.objects.filter(
        area=row.place.area_id, kind__in=[TAKEN, ADDED, MOVED], happened_at__gt=deed.at, data__counted=row.pk
    )
    return sum(data["is"] - data["was"] for data in later.values_list("data", flat=True))


def _shifted(row: CountedStock, by: int, deed: _Deed, **more: int | None) -> CountedNow:
    """So many more or fewer; what happened before the last count is in that count already."""
    if deed.at < row.counted_at:
        return _changed(row, row.quantity, deed, COUNTED_SINCE, **more)
    return _changed(row, row.quantity + by, deed, "", **more)


def _changed(row: CountedStock, quantity: int, deed: _Deed, caution: str = "", **more: int | None) -> CountedNow:
    if quantity > MOST:
        raise Unusable(f"{quantity} {row.item} at one place cannot be meant. Count again.", where="quantity")
    was, row.quantity = row.quantity, max(0, quantity)
    row.save(update_fields=["quantity", "counted_at"])
    data = {"counted": row.pk, "was": was, "is": row.quantity, **{k: v for k, v in more.items() if v is not None}}
    journal.note(
        kind=deed.kind, actor=deed.actor, now=deed.now, area_id=row.place.area_id, happened_at=deed.at, data=data
    )
    _warn(row, deed.actor, deed.now)
    if quantity < 0:
        caution = f"The record had {was} here: count again at a quiet time."
    return _told(row, caution)


def _warn(row: CountedStock, actor: User, now: datetime) -> None:
    """Below the least there should be the desk is told, once; it is told no longer when there are enough again."""
    text, area_id = f"{row.item} at {row.place}: fewer than the least there should be.", row.place.area_id
    if row.quantity < row.minimum:
        alarms.raise_alarm(kind=SHORT, text=text, area_id=area_id, actor=actor, now=now)
    else:
        done = f"{row.quantity} there again, at least {row.minimum}."
        alarms.end_alarm(kind=SHORT, text=text, area_id=area_id, actor=actor, now=now, what_was_done=done)


def _told(row: CountedStock, caution: str = "") -> CountedNow:
    if not caution and row.quantity < row.minimum:
        caution = f"Below the least there should be at {row.place}: {row.quantity} of {row.minimum}."
    return CountedNow(str(row.place), row.item, row.unit_word, row.quantity, row.minimum, caution)
