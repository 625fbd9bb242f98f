"""Carrying a change of shifts over to the crews and the call-out order of the same hours. Part of a use case."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from django.db import IntegrityError, transaction
from django.db.models import Max, Q

from dispatch.models import CallOutOrder, Crew, Person, Shift
from dispatch.rota.nights import nights_of
from equipment.models import Vehicle
from jobs.models import Area
from jobs.refusals import NotThere, Refusal

# Where a crew's hours are put for a moment while two leads change places, since neither may have two crews at once.
ASIDE = timedelta(days=36_500)
# How much longer than its hours a crew may be planned for (common practice, no source).
OVERTIME = timedelta(hours=2)


class CannotLead(Refusal):
    """The person leads no crews, and the crew of these hours would have no lead."""

    code = "cannot_lead"


class LeadNeedsCover(Refusal):
    """Whoever leads a crew in these hours is covered by somebody, not only taken out."""

    code = "lead_needs_cover"


class CrewTaken(Refusal):
    """The person already has another crew in these hours."""

    code = "crew_taken"


class VehicleTaken(Refusal):
    """The vehicle has a full crew, or one of other hours, or is in the workshop."""

    code = "vehicle_taken"


def man_vehicle(person: Person, vehicle_id: int, *, kind: str, starts_at: datetime, ends_at: datetime) -> list[str]:
    """
    Put a person on a vehicle for these hours: as helper of the crew that has it then, else as lead of a new crew.

    :raises NotThere: if the area has no such vehicle.
    :raises VehicleTaken: if its crew of these hours is full, or has only a part of them; or it is in the workshop.
    :raises CannotLead: if the vehicle has no crew yet and the person leads none.
    :raises CrewTaken: if the person has another crew in these hours.
    """
    vehicle = Vehicle.objects.filter(pk=vehicle_id, area=person.area).select_related("home").first()
    if vehicle is None:
        raise NotThere("There is no such vehicle in this area. Choose one from the list.", where="vehicle_id")
    if vehicle.in_workshop:
        raise VehicleTaken(f"{vehicle.name} is in the workshop. Choose another one.", vehicle_id=vehicle_id)
    meets = Crew.objects.filter(vehicle=vehicle, starts_at__lt=ends_at, ends_at__gt=starts_at)
    crew = meets.select_for_update(of=("self",)).select_related("lead").order_by("starts_at").first()
    if crew is not None:
        if crew.helper_id is not None or crew.starts_at > starts_at or crew.ends_at < ends_at:
            raise VehicleTaken(
                f"{vehicle.name} is with {crew.name} ({crew.lead.name}) in these hours. "
                "Choose another vehicle, or the hours of that crew.",
                crew_id=crew.pk,
            )
        _not_twice(crew, person)
        crew.helper = person
        crew.save(update_fields=["helper"])
        return [f"{person.name} helps on {crew.name} with {vehicle.name}."]
    if not person.can_lead:
        raise CannotLead(
            f"{vehicle.name} has no crew in these hours, and {person.name} leads none. Make the lead's shift first."
        )
    day = starts_at.astimezone(person.area.zone).date()
    taken = set(Crew.objects.filter(area=person.area, service_day=day).values_list("name", flat=True))
    names = (vehicle.code, *(f"{vehicle.code}-{number}" for number in range(2, 100)))
    crew = Crew(
        area=person.area,
        service_day=day,
        name=next(name for name in names if name not in taken),
        lead=person,
        vehicle=vehicle,
        start=vehicle.home,
        end=vehicle.home,
        starts_at=starts_at,
        ends_at=ends_at,
        at_latest=ends_at + OVERTIME,
        on_call=kind != Shift.Kind.DAY,
    )
    _not_twice(crew, person)
    try:
        with transaction.atomic():
            crew.save(force_insert=True)
    except IntegrityError as error:
        raise CrewTaken(f"{person.name} or {vehicle.name} has another crew in these hours.") from error
    return [f"{person.name} leads {crew.name} with {vehicle.name}, from {vehicle.home.name}."]


def crews_of(person: Person, starts_at: datetime, ends_at: datetime) -> list[Crew]:
    """The crews of a person whose hours meet these, locked, in key order."""
    mine = Crew.objects.filter(Q(lead=person) | Q(helper=person), starts_at__lt=ends_at, ends_at__gt=starts_at)
    return list(mine.select_related("lead", "helper").select_for_update(of=("self",)).order_by("pk"))


def give_crews(crews: Sequence[Crew], *, out: Person, into: Person) -> list[str]:
    """
    Put one person into another's place on crews, in words.

    :raises CannotLead: if a crew would be led by somebody who leads none.
    :raises CrewTaken: if the person has another crew in these hours.
    """
    did = []
    for crew in crews:
        if crew.lead_id == out.pk:
            if not into.can_lead:
                raise CannotLead(
                    f"{out.name} leads {crew.name} in these hours and {into.name} leads no crews. "
                    "Choose somebody who does.",
                    crew_id=crew.pk,
                )
            crew.lead = into
            did.append(f"{into.name} leads {crew.name} instead of {out.name}.")
        if crew.helper_id == out.pk:
            crew.helper = into
            did.append(f"{into.name} helps on {crew.name} instead of {out.name}.")
        if crew.lead_id == crew.helper_id:
            crew.helper = None
            did.append(f"{crew.name} goes without a helper.")
        _not_twice(crew, into)
        _save(crew, into)
    return did


def swap_crews(of_first: Sequence[Crew], of_second: Sequence[Crew], *, first: Person, second: Person) -> list[str]:
    """Two people change places on their crews, in words; refused as by `give_crews`."""
    aside = [crew for crew in of_first if crew not in of_second]
    for crew in aside:
        Crew.objects.filter(pk=crew.pk).update(
            starts_at=crew.starts_at - ASIDE, ends_at=crew.ends_at - ASIDE, at_latest=crew.at_latest - ASIDE
        )
    both = [crew for crew in of_first if crew in of_second]
    did = give_crews([crew for crew in of_second if crew not in both], out=second, into=first)
    did += give_crews(aside, out=first, into=second)
    return did


def leave_crews(crews: Sequence[Crew], *, out: Person) -> list[str]:
    """
    Take a helper off crews, in words.

    :raises LeadNeedsCover: if the person leads one of them.
    """
    did = []
    for crew in crews:
        if crew.lead_id == out.pk:
            raise LeadNeedsCover(
                f"{out.name} leads {crew.name} in these hours. Name who covers the shift, so that the crew has a lead.",
                crew_id=crew.pk,
            )
        crew.helper = None
        crew.save(update_fields=["helper"])
        did.append(f"{crew.name} goes without a helper.")
    return did


def give_order(
    area: Area, starts_at: datetime, ends_at: datetime, *, out: Person, into: Person | None, swap: bool = False
) -> list[str]:
    """Put one person into another's place in the call-out order of the nights of these hours, or take them out."""
    did = []
    for night in nights_of(area, starts_at, ends_at):
        rows = {row.person_id: row for row in CallOutOrder.objects.filter(area=area, night_of=night.of)}
        mine, theirs = rows.get(out.pk), None if into is None else rows.get(into.pk)
        named = f"the call-out order of {night.of:%b} {night.of.day}"
        if mine is None and not (swap and theirs):
            continue
        for row in (mine, theirs):
            if row is not None:
                CallOutOrder.objects.filter(pk=row.pk).delete()
        if mine is not None and into is not None:
            at = mine.position if swap or theirs is None else min(mine.position, theirs.position)
            CallOutOrder.objects.create(area=area, night_of=night.of, position=at, person=into)
            did.append(f"{into.name} is number {at} in {named} instead of {out.name}.")
        elif mine is not None:
            did.append(f"{out.name} is out of {named}.")
        if swap and theirs is not None:
            CallOutOrder.objects.create(area=area, night_of=night.of, position=theirs.position, person=out)
            did.append(f"{out.name} is number {theirs.position} in {named}.")
    return did


def add_to_order(area: Area, starts_at: datetime, ends_at: datetime, *, person: Person) -> list[str]:
    """Put a person at the end of the call-out order of each night of these hours."""
    did = []
    for night in nights_of(area, starts_at, ends_at):
        rows = CallOutOrder.objects.filter(area=area, night_of=night.of)
        if rows.filter(person=person).exists():
            continue
        position = (rows.aggregate(last=Max("position"))["last"] or 0) + 1
        CallOutOrder.objects.create(area=area, night_of=night.of, position=position, person=person)
        did.append(f"{person.name} is number {position} in the call-out order of {night.of:%b} {night.of.day}.")
    return did


def _not_twice(crew: Crew, person: Person) -> None:
    other = Crew.objects.filter(
        Q(lead=person) | Q(helper=person), starts_at__lt=crew.ends_at, ends_at__gt=crew.starts_at
    ).exclude(pk=crew.pk)
    if taken := other.first():
        raise CrewTaken(f"{person.name} is on {taken.name} in these hours. Choose somebody else.", crew_id=taken.pk)


def _save(crew: Crew, person: Person) -> None:
    try:
        with transaction.atomic():
            crew.save(update_fields=["lead", "helper", "starts_at", "ends_at", "at_latest"])
    except IntegrityError as error:
        raise CrewTaken(f"{person.name} has another crew in these hours. Choose somebody else.") from error
