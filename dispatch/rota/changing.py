"""Shifts made, swapped, covered and taken out, and the order of the call-out: each with who, when and why."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction

from dispatch.models import CallOutOrder, Person, RotaChange, Shift
from dispatch.rota import restaff, telling
from dispatch.rota.effects import RotaEffect, compare, tried
from dispatch.rota.nights import night, nights_of, tonight
from jobs import journal
from jobs.models import Area
from jobs.refusals import NotThere, Refusal, Unusable
from jobs.use_case import use_case

LONGEST = timedelta(hours=24)


class ShiftTaken(Refusal):
    """The person already has a shift in these hours."""

    code = "shift_taken"


class RotaNeedsReason(Refusal):
    """Who swaps, covers or takes out a shift says why."""

    code = "rota_needs_reason"
    status = 422


@dataclass(frozen=True)
class RotaChanged:
    """What was changed, and what it does to the nights it touches; `shift_ids` are the shifts that stand now."""

    change_id: int
    shift_ids: tuple[int, ...]
    effect: RotaEffect


@dataclass(frozen=True)
class Change:
    """A change thought through but not done: whom it touches, when, and the function that does it."""

    what: RotaChange.What
    area: Area
    people: tuple[Person, ...]
    starts_at: datetime
    ends_at: datetime
    apply: Callable[[list[int]], Sequence[str]]


@use_case("make_shift", private=("reason",))
def make_shift(
    *, key: UUID, actor: User, now: datetime, person_id: int, kind: str, starts_at: datetime, ends_at: datetime,
    reason: str = "", vehicle_id: int | None = None,
) -> RotaChanged:  # fmt: skip
    """
    Give a person a shift; one on call also gets the last place in the call-out order of its nights.

    With a vehicle they lead a new crew on it in these hours, or help on the crew that has it.

    :raises ShiftTaken: if the person has a shift in these hours.
    :raises Refusal: as `restaff.man_vehicle`, if they cannot have the vehicle.
    """
    return _do(making(person_id, kind, starts_at, ends_at, vehicle_id), reason, actor, now, key)


@use_case("swap_shifts", private=("reason",))
def swap_shifts(
    *, key: UUID, actor: User, now: datetime, shift_id: int, with_shift_id: int, reason: str
) -> RotaChanged:
    """
    Two people change shifts, with their places on crews and in the call-out order.

    :raises RotaNeedsReason: without a reason.
    :raises ShiftTaken: if one of them has another shift in the hours that they get.
    """
    _why(reason)
    return _do(swapping(shift_id, with_shift_id, now), reason, actor, now, key)


@use_case("cover_shift", private=("reason",))
def cover_shift(*, key: UUID, actor: User, now: datetime, shift_id: int, person_id: int, reason: str) -> RotaChanged:
    """
    Somebody takes the shift of another who is sick or away, with the place on the crew and in the call-out order.

    :raises RotaNeedsReason: without a reason.
    :raises ShiftTaken: if whoever covers has another shift in these hours.
    """
    _why(reason)
    return _do(covering(shift_id, person_id, now), reason, actor, now, key)


@use_case("cancel_shift", private=("reason",))
def cancel_shift(*, key: UUID, actor: User, now: datetime, shift_id: int, reason: str) -> RotaChanged:
    """
    Take a shift out, with a helper's place on the crew and the place in the call-out order.

    :raises RotaNeedsReason: without a reason.
    :raises LeadNeedsCover: if the person leads a crew in these hours.
    """
    _why(reason)
    return _do(canceling(shift_id, now), reason, actor, now, key)


@use_case("order_call_outs", private=("reason",))
def order_call_outs(
    *, key: UUID, actor: User, now: datetime, area_id: int, night_of: date, person_ids: list[int], reason: str = ""
) -> RotaChanged:
    """Set who is called first, second and so on in the night that begins on a day."""
    return _do(ordering(area_id, night_of, person_ids, now), reason, actor, now, key)


def preview(change: Change, *, now: datetime) -> RotaEffect:
    """
    What a change would do; nothing stays changed.

    :raises Refusal: as the change itself would be refused.
    """
    return tried(lambda: change.apply([]), **_scope(change, now))


def making(person_id: int, kind: str, starts_at: datetime, ends_at: datetime, vehicle_id: int | None = None) -> Change:
    """The making of a shift, not done yet."""
    if kind not in Shift.Kind.values:
        raise Unusable(f"A shift is one of: {', '.join(Shift.Kind.values)}.", where="kind")
    if not timedelta(0) < ends_at - starts_at <= LONGEST:
        raise Unusable("A shift ends after it starts, within 24 hours.", where="ends_at")
    person = _person(person_id)

    def apply(made: list[int]) -> list[str]:
        made.append(_create(person, kind, starts_at, ends_at).pk)
        did = [f"{person.name}: {_words(kind, starts_at, ends_at, person.area)}."]
        if vehicle_id:
            did += restaff.man_vehicle(person, vehicle_id, kind=kind, starts_at=starts_at, ends_at=ends_at)
        if kind == Shift.Kind.ON_CALL:
            did += restaff.add_to_order(person.area, starts_at, ends_at, person=person)
        return did

    return Change(RotaChange.What.MADE, person.area, (person,), starts_at, ends_at, apply)


def covering(shift_id: int, person_id: int, now: datetime) -> Change:
    """The covering of a shift by somebody else, not done yet."""
    shift, person = _shift(shift_id, now), _person(person_id)
    sick = shift.person
    if person.pk == sick.pk:
        raise Unusable(f"{sick.name} cannot cover for themselves. Choose somebody else.", where="person_id")

    def apply(made: list[int]) -> list[str]:
        crews = restaff.crews_of(sick, shift.starts_at, shift.ends_at)
        shift_row(shift).delete()
        made.append(_create(person, shift.kind, shift.starts_at, shift.ends_at).pk)
        did = [f"{person.name} covers {sick.name}: {_words(shift.kind, shift.starts_at, shift.ends_at, sick.area)}."]
        did += restaff.give_crews(crews, out=sick, into=person)
        return did + restaff.give_order(sick.area, shift.starts_at, shift.ends_at, out=sick, into=person)

    return Change(RotaChange.What.COVERED, sick.area, (sick, person), shift.starts_at, shift.ends_at, apply)


def swapping(shift_id: int, with_shift_id: int, now: datetime) -> Change:
    """The swap of two people's shifts, not done yet."""
    one, two = _shift(shift_id, now), _shift(with_shift_id, now)
    first, second = one.person, two.person
    if first.pk == second.pk:
        raise Unusable("Both shifts are the same person's. Choose the shift of somebody else.", where="with_shift_id")
    same = (one.starts_at, one.ends_at) == (two.starts_at, two.ends_at)

    def apply(made: list[int]) -> list[str]:
        mine = restaff.crews_of(first, one.starts_at, one.ends_at)
        theirs = restaff.crews_of(second, two.starts_at, two.ends_at)
        shift_row(one).delete()
        shift_row(two).delete()
        for person, shift in ((second, one), (first, two)):
            made.append(_create(person, shift.kind, shift.starts_at, shift.ends_at).pk)
        did = [
            f"{person.name}: {_words(shift.kind, shift.starts_at, shift.ends_at, person.area)}."
            for person, shift in ((second, one), (first, two))
        ]
        did += restaff.swap_crews(mine, theirs, first=first, second=second)
        did += restaff.give_order(first.area, one.starts_at, one.ends_at, out=first, into=second, swap=same)
        if not same:
            did += restaff.give_order(second.area, two.starts_at, two.ends_at, out=second, into=first)
        return did

    starts, ends = min(one.starts_at, two.starts_at), max(one.ends_at, two.ends_at)
    return Change(RotaChange.What.SWAPPED, first.area, (first, second), starts, ends, apply)


def canceling(shift_id: int, now: datetime) -> Change:
    """The taking out of a shift, not done yet."""
    shift = _shift(shift_id, now)
    person = shift.person

    def apply(made: list[int]) -> list[str]:
        crews = restaff.crews_of(person, shift.starts_at, shift.ends_at)
        shift_row(shift).delete()
        did = [f"{person.name} is out of: {_words(shift.kind, shift.starts_at, shift.ends_at, person.area)}."]
        did += restaff.leave_crews(crews, out=person)
        return did + restaff.give_order(person.area, shift.starts_at, shift.ends_at, out=person, into=None)

    return Change(RotaChange.What.CANCELED, person.area, (person,), shift.starts_at, shift.ends_at, apply)


def ordering(area_id: int, night_of: date, person_ids: Sequence[int], now: datetime) -> Change:
    """The setting of a night's call-out order, not done yet."""
    area = Area.objects.filter(pk=area_id).first()
    if area is None:
        raise NotThere(f"There is no area {area_id}.", where="area_id")
    hours = night(area, night_of)
    if hours.ends_at <= now:
        raise Unusable("That night is over. Choose tonight or a later one.", where="night_of")
    people = tuple(map(_person, person_ids))
    if len(set(person_ids)) < len(person_ids) or any(person.area_id != area_id for person in people):
        raise Unusable("Name people of this area, each once.", where="person_ids")

    def apply(made: list[int]) -> list[str]:
        CallOutOrder.objects.filter(area=area, night_of=night_of).delete()
        CallOutOrder.objects.bulk_create(
            CallOutOrder(area=area, night_of=night_of, position=position, person=person)
            for position, person in enumerate(people, start=1)
        )
        order = ", ".join(person.name for person in people) or "nobody"
        return [f"Call-out order of {night_of:%b} {night_of.day}: {order}."]

    return Change(RotaChange.What.ORDERED, area, people, hours.starts_at, hours.ends_at, apply)


def shift_row(shift: Shift):  # type: ignore[no-untyped-def]  # a queryset of one
    """The shift by its key: an instance would lose the key when it is deleted, and a tried change is done again."""
    return Shift.objects.filter(pk=shift.pk)


def _do(change: Change, reason: str, actor: User, now: datetime, key: UUID) -> RotaChanged:
    made: list[int] = []
    effect = compare(lambda: change.apply(made), **_scope(change, now))
    people: tuple[Person | None, ...] = (*change.people, None, None)
    row = RotaChange.objects.create(
        area=change.area,
        what=change.what,
        person=None if change.what == RotaChange.What.ORDERED else people[0],
        other=None if change.what == RotaChange.What.ORDERED else people[1],
        starts_at=change.starts_at,
        ends_at=change.ends_at,
        did=list(effect.did),
        reason=reason.strip()[:300],
        changed_by=actor,
        changed_at=now,
    )
    data = {"change": row.pk, "what": row.what, "people": [person.pk for person in change.people]}
    telling.tell(change.people, effect.did, area=change.area, key=key, now=now)
    journal.note(kind="rota_changed", actor=actor, now=now, area_id=change.area.pk, data=data)
    return RotaChanged(row.pk, tuple(made), effect)


def _scope(change: Change, now: datetime):  # type: ignore[no-untyped-def]  # the keyword arguments of compare
    nights = nights_of(change.area, change.starts_at, change.ends_at) or (tonight(change.area, now),)
    return {"area": change.area, "nights": nights, "people": change.people, "now": now}


def _why(reason: str) -> None:
    if not reason.strip():
        raise RotaNeedsReason("Say in a few words why, such as: sick since noon.", where="reason")


def _person(person_id: int) -> Person:
    person = Person.objects.select_related("area").filter(pk=person_id, active=True).first()
    if person is None:
        raise NotThere(f"There is no person {person_id} who works here now.", where="person_id")
    return person


def _shift(shift_id: int, now: datetime) -> Shift:
    shift = Shift.objects.select_related("person__area").filter(pk=shift_id).first()
    if shift is None:
        raise NotThere("There is no such shift any more. Look at the rota again.", where="shift_id")
    if shift.ends_at <= now:
        raise Unusable("That shift is over. Choose one that runs or is still to come.", where="shift_id")
    return shift


def _create(person: Person, kind: str, starts_at: datetime, ends_at: datetime) -> Shift:
    try:
        with transaction.atomic():
            return Shift.objects.create(person=person, kind=kind, starts_at=starts_at, ends_at=ends_at)
    except IntegrityError as error:
        raise ShiftTaken(
            f"{person.name} already has a shift in these hours. Choose somebody else, or swap the two shifts.",
            person_id=person.pk,
        ) from error


def _words(kind: str, starts_at: datetime, ends_at: datetime, area: Area) -> str:
    local = [moment.astimezone(area.zone) for moment in (starts_at, ends_at)]
    return f"{Shift.Kind(kind).label}, {local[0]:%a %b %-d %-I:%M %p} to {local[1]:%a %-I:%M %p}"
