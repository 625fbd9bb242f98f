"""Accessories and consumables: take, add, count, load onto a vehicle, and the least there should be."""

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_http_methods

from equipment import counted, places
from equipment.counted import CountedNow
from equipment.models import Vehicle
from equipment.selectors.counted import counted_at, counted_short
from equipment.warehouse import pages
from equipment.warehouse.answering import answer, done, read, room
from equipment.warehouse.forms import LateForm

HOW_MANY = {"required": "Say how many.", "invalid": "Write a whole number."}


class ItemForm(LateForm):
    """So many of one item."""

    item = forms.CharField(max_length=60, error_messages={"required": "Say which item."})
    quantity = forms.IntegerField(min_value=0, max_value=counted.MOST, error_messages=HOW_MANY)


class NewItemForm(ItemForm):
    """An item that was not kept here before."""

    unit_word = forms.CharField(max_length=20, required=False)


class LoadForm(ItemForm):
    """So many of one item onto a vehicle."""

    vehicle_id = forms.IntegerField(min_value=1, error_messages={"required": "Choose the vehicle."})


@room
@require_http_methods(["GET", "POST"])
def accessories(request: HttpRequest, code: str) -> HttpResponse:
    """What is counted at this warehouse."""
    desk = pages.Desk(pages.place(code, request.user), "accessories")  # type: ignore[arg-type]
    here = places.holder_for_warehouse(desk.place.id).pk

    def item(form: type[ItemForm] = ItemForm) -> dict[str, Any]:
        return read(form(request.POST), request)

    def count() -> pages.Said:
        values = item()
        counts = ((values.pop("item"), values.pop("quantity")),)
        return said_counted("Counted", *counted.count_counted(**values, place_id=here, counts=counts))

    def least() -> pages.Said:
        values = item()
        minimum = values.pop("quantity")
        del values["happened_at"]
        return said_counted("Least set", counted.set_counted_minimum(**values, place_id=here, minimum=minimum))

    deeds = {
        "take": lambda: said_counted("Taken", counted.take_counted(**item(), place_id=here)),
        "add": lambda: said_counted("Added", counted.add_counted(**item(NewItemForm), place_id=here)),
        "count": count,
        "least": least,
        "load_item": lambda: load_item(request, here),
    }
    desk, status = done(request, desk, deeds)
    rows = counted_at(warehouse_id=desk.place.id)
    vehicles = tuple(Vehicle.objects.filter(area=desk.place.area_id).order_by("name").values_list("pk", "name"))
    short = counted_short(area_id=desk.place.area_id, at_most=40)
    return answer(request, "accessories", desk, status, rows=rows, vehicles=vehicles, short=short)


def load_item(request: HttpRequest, here: int) -> pages.Said:
    """Move items from this warehouse onto a vehicle."""
    values = read(LoadForm(request.POST), request)
    to = places.holder_for_vehicle(values.pop("vehicle_id")).pk
    left, aboard = counted.move_counted(**values, from_place_id=here, to_place_id=to)
    said = said_counted("Loaded", aboard)
    caution = left.caution or said.caution
    shape = pages.CAUTION if caution else said.shape
    return pages.Said(shape, said.word, f"{said.sentence} {left.quantity} left here.", caution)


def said_counted(word: str, *now: CountedNow) -> pages.Said:
    """What to say of a change: how many there are now, and what to look at."""
    last = now[-1]
    caution = last.caution
    sentence = f"{last.item}: {last.quantity} ({last.unit_word}) at {last.place} now."
    return pages.Said(pages.CAUTION if caution else pages.RIGHT, word, sentence, caution)
