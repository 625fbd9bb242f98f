"""Saying that a unit was serviced, and that a vehicle is in the workshop or back."""

from django import forms
from django.http import HttpRequest

from equipment.service import record_service
from equipment.vehicles import change_vehicle
from equipment.warehouse import pages
from equipment.warehouse.answering import read
from equipment.warehouse.forms import KeyedForm, LateForm


class ServiceForm(LateForm):
    """Which unit, and what its hour meter shows."""

    number = forms.CharField(max_length=12)
    hour_meter = forms.FloatField(
        min_value=0, max_value=999_999, required=False, error_messages={"invalid": "Write the hours as a number."}
    )


def serviced(request: HttpRequest) -> pages.Said:
    """Record the service; the hours to the next one count from here."""
    kept = record_service(**read(ServiceForm(request.POST), request))
    until = f" Next at {kept.next_due_h:g} h." if kept.next_due_h is not None else ""
    return pages.Said(pages.RIGHT, f"{kept.number} Serviced", f"{kept.model} at {kept.hour_meter:g} h.{until}")


def workshop(request: HttpRequest, vehicle_id: int, in_workshop: bool) -> pages.Said:
    """Into the workshop, where what is aboard counts for nothing, or back from it."""
    values = read(KeyedForm(request.POST), request)
    now = change_vehicle(**values, vehicle_id=vehicle_id, in_workshop=in_workshop)
    if in_workshop:
        word, sentence = "In the workshop", f"Aboard: {now.aboard}. It counts for nothing until the vehicle is back."
    else:
        word, sentence = "Back", f"Aboard: {now.aboard}. It counts again."
    return pages.Said(pages.RIGHT, f"{now.name}: {word}", sentence)
