"""Writing shifts, crews and the call-out order."""

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from django.db import IntegrityError, transaction

from dispatch.imports.hours import after, at
from dispatch.models import CallOutOrder, Crew, Person, Shift
from equipment.models import Vehicle, Warehouse
from equipment.sheets.checking import GoodRow
from jobs.refusals import Refusal


class RotaTaken(Refusal):
    """Shifts or crews meet others that are in the database already."""

    code = "rota_taken"
    status = 409


def write_shifts(rows: Sequence[GoodRow]) -> None:
    """
    Shifts by person and day: what a person had on the file's days is replaced.

    :raises RotaTaken: if a shift runs into one from the day before or after the file's days.
    """
    people = _people()
    wanted = list(_shifts(rows, people))
    if not wanted:
        return
    try:
        with transaction.atomic():
            Shift.objects.filter(
                person__in={shift.person for shift in wanted},
                starts_at__gte=min(shift.starts_at for shift in wanted),
                starts_at__lte=max(shift.starts_at for shift in wanted),
            ).delete()
            Shift.objects.bulk_create(wanted)
    except IntegrityError as error:
        raise RotaTaken(
            "A shift in shifts.csv runs into one that its person has on the day before or after. "
            "Add that day to the file, or take the earlier shift out first."
        ) from error


def write_crews(rows: Sequence[GoodRow]) -> None:
    """
    Crews by area, day and name. A night crew is asked before it is counted on.

    :raises RotaTaken: if a lead or a vehicle has another crew in the same hours.
    """
    people, vehicles = _people(), {vehicle.code: vehicle for vehicle in Vehicle.objects.all()}
    warehouses = {warehouse.code: warehouse for warehouse in Warehouse.objects.select_related("area")}
    for row in rows:
        values, start = row.values, warehouses[row.values["start"]]
        zone = start.area.zone
        hours = [after(values["day"], values["from"], values[name], zone) for name in ("until", "at_latest")]
        if hours[1] < hours[0]:
            hours[1] += timedelta(days=1)
        try:
            with transaction.atomic():
                Crew.objects.update_or_create(
                    area=start.area,
                    service_day=values["day"],
                    name=values["code"],
                    defaults={
                        "lead": people[values["lead"]],
                        "helper": people[values["helper"]] if values["helper"] else None,
                        "vehicle": vehicles[values["vehicle"]],
                        "start": start,
                        "end": warehouses[values["end"]] if values["end"] else None,
                        "starts_at": at(values["day"], values["from"], zone),
                        "ends_at": hours[0],
                        "at_latest": hours[1],
                        "on_call": values["kind"] == "night",
                    },
                )
        except IntegrityError as error:
            raise RotaTaken(
                f"crews.csv line {row.line}: {values['lead']} or {values['vehicle']} has another crew in these hours. "
                "Give one of the two other hours."
            ) from error


def write_call_out_order(rows: Sequence[GoodRow]) -> None:
    """Who is tried in which order: the order of each night in the file is replaced as a whole."""
    people = _people()
    wanted = [
        CallOutOrder(
            area=people[row.values["user_name"]].area,
            night_of=row.values["night"],
            position=row.values["position"],
            person=people[row.values["user_name"]],
        )
        for row in rows
    ]
    for area, night in {(order.area, order.night_of) for order in wanted}:
        CallOutOrder.objects.filter(area=area, night_of=night).delete()
    CallOutOrder.objects.bulk_create(wanted)


def _people() -> dict[str, Person]:
    return {person.user.username: person for person in Person.objects.select_related("user", "area")}


def _shifts(rows: Sequence[GoodRow], people: dict[str, Person]) -> Iterator[Shift]:
    for row in rows:
        values, person = row.values, people[row.values["user_name"]]
        zone = person.area.zone
        starts_at: datetime = at(values["day"], values["from"], zone)
        ends_at = after(values["day"], values["from"], values["until"], zone)
        yield Shift(person=person, kind=values["kind"], starts_at=starts_at, ends_at=ends_at)
