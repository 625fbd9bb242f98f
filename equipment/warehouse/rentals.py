"""Rented units: in from the supplier, what they cost, and the call-off that ends the charge."""

from dataclasses import replace

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from equipment import custody, selectors
from equipment.models import EquipmentModel
from equipment.warehouse import pages
from equipment.warehouse.answering import answer, done, read, room
from equipment.warehouse.forms import CallOffForm, RentForm


@room
@require_http_methods(["GET", "POST"])
def rentals(request: HttpRequest, code: str) -> HttpResponse:
    """What is rented, renting in, calling off."""
    desk = pages.Desk(pages.place(code, request.user), "rentals")  # type: ignore[arg-type]
    models = tuple(EquipmentModel.objects.filter(loan=None).order_by("kind", "name").values_list("pk", "name"))

    def rent() -> pages.Said:
        values = read(RentForm(request.POST, models=models), request)
        values["daily_cost"] = float(values["daily_cost"])
        return replace(pages.said_of(custody.rent_in(**values, warehouse_id=desk.place.id).scans), undo=None)

    def call_off() -> pages.Said:
        values = read(CallOffForm(request.POST, numbers=request.POST.getlist("units")), request)
        numbers = tuple(values.pop("units"))
        return replace(pages.said_of(custody.call_off(**values, numbers=numbers).scans), undo=None)

    desk, status = done(request, desk, {"rent": rent, "call_off": call_off})
    refused = request.POST if status != 200 else {}
    form = RentForm(request.POST if refused.get("do") == "rent" else None, models=models)
    page = selectors.rentals(area_id=desk.place.area_id, now=timezone.now())
    chosen = request.POST.getlist("units") if refused.get("do") == "call_off" else []
    typed = refused.get("call_off_number", "")
    return answer(request, "rentals", desk, status, page=page, form=form, chosen=chosen, call_off_number=typed)
