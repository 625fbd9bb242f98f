"""Read what was scanned, make one call, answer in place. Everything works as a plain form without JavaScript."""

from dataclasses import replace

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from equipment import custody, labels, places, selectors
from equipment.models import EquipmentModel
from equipment.numbers import unit_number
from equipment.selectors.counted import counted_at
from equipment.selectors.service import due_for_service
from equipment.warehouse import pages
from equipment.warehouse.accessories import load_item
from equipment.warehouse.answering import answer, done, read, room, scanned_late, undo
from equipment.warehouse.forms import FindForm, StepsForm, TagsForm
from equipment.warehouse.servicing import serviced, workshop
from equipment.warehouse.unit_page import set_condition
from equipment.what_is_free import free_page
from jobs.refusals import NotThere, Unusable


@room
@require_GET
def choose(request: HttpRequest) -> HttpResponse:
    """Which warehouse; where there is only one, straight into it."""
    there = pages.places(request.user)  # type: ignore[arg-type]
    if len(there) == 1:
        return redirect("warehouse:departures", code=there[0].code)
    return render(request, "equipment/warehouse/choose.html", {"places": there})


@room
@require_GET
def departures(request: HttpRequest, code: str) -> HttpResponse:
    """Load lists by departure."""
    desk = pages.Desk(pages.place(code, request.user), "departures")  # type: ignore[arg-type]
    page = pages.departures_page(desk.place, now=timezone.now())
    return answer(request, "departures", desk, 200, page=page)


@room
@require_http_methods(["GET", "POST"])
def load(request: HttpRequest, code: str, load_list_id: int) -> HttpResponse:
    """One load list, shrinking as it is scanned."""
    desk = pages.Desk(pages.place(code, request.user), "departures")  # type: ignore[arg-type]
    vehicle_id = selectors.vehicle_of_list(load_list_id, warehouse_id=desk.place.id)

    def scan() -> pages.Said:
        values = scanned_late(request)
        loaded = custody.scan_out(**values, vehicle_id=vehicle_id, load_list_id=load_list_id)
        return pages.said_of(loaded.scans)

    desk, status = done(request, desk, {"scan": scan, "undo": lambda: undo(request)})
    return answer(request, "load", desk, status, listed=selectors.load_list(load_list_id))


@room
@require_http_methods(["GET", "POST"])
def restock(request: HttpRequest, code: str, vehicle_code: str) -> HttpResponse:
    """One vehicle, to its standing stock."""
    desk = pages.Desk(pages.place(code, request.user), "departures")  # type: ignore[arg-type]
    page = pages.restock_page(desk.place, vehicle_code, now=timezone.now())

    here = places.holder_for_warehouse(desk.place.id).pk

    def scan() -> pages.Said:
        values = scanned_late(request)
        loaded = custody.scan_out(**values, vehicle_id=page.vehicle_id, warehouse_id=desk.place.id)
        return pages.said_of(loaded.scans)

    deeds = {
        "scan": scan,
        "undo": lambda: undo(request),
        "load_item": lambda: load_item(request, here),
        "workshop": lambda: workshop(request, page.vehicle_id, True),
        "back": lambda: workshop(request, page.vehicle_id, False),
    }
    desk, status = done(request, desk, deeds)
    if request.method == "POST":
        page = pages.restock_page(desk.place, vehicle_code, now=timezone.now())
    items = counted_at(vehicle_id=page.vehicle_id, from_warehouse_id=desk.place.id)
    return answer(request, "restock", desk, status, page=page, items=items)


@room
@require_http_methods(["GET", "POST"])
def returns(request: HttpRequest, code: str) -> HttpResponse:
    """Units coming in, against what the jobs should give back."""
    desk = pages.Desk(pages.place(code, request.user), "returns")  # type: ignore[arg-type]

    def scan() -> pages.Said:
        return pages.said_of(custody.scan_in(**scanned_late(request), warehouse_id=desk.place.id).scans)

    desk, status = done(request, desk, {"scan": scan, "undo": lambda: undo(request)})
    now = timezone.now()
    jobs = selectors.recent_returns(warehouse_id=desk.place.id, now=now)
    arrivals = selectors.recent_arrivals(warehouse_id=desk.place.id, now=now)
    return answer(request, "returns", desk, status, jobs=jobs, arrivals=arrivals)


@room
@require_http_methods(["GET", "POST"])
def cleaning(request: HttpRequest, code: str) -> HttpResponse:
    """What waits to be cleaned, tested, decontaminated or repaired."""
    desk = pages.Desk(pages.place(code, request.user), "cleaning")  # type: ignore[arg-type]
    deeds = {
        "steps": lambda: _steps(request),
        "condition": lambda: set_condition(request),
        "serviced": lambda: serviced(request),
        "undo": lambda: undo(request),
    }
    desk, status = done(request, desk, deeds)
    queue = selectors.cleaning_queue(warehouse_id=desk.place.id, now=timezone.now())
    due = due_for_service(warehouse_id=desk.place.id)
    return answer(request, "cleaning", desk, status, queue=queue, due=due, due_numbers={row.number for row in due})


def _steps(request: HttpRequest) -> pages.Said:
    values = read(StepsForm(request.POST), request)
    numbers, steps = (values.pop("number"),), tuple(values.pop("steps"))
    return pages.said_of(custody.set_condition(**values, numbers=numbers, condition="ready", steps=steps).scans)


@room
@require_GET
def left_behind(request: HttpRequest, code: str) -> HttpResponse:
    """Units at finished jobs, and units that nobody has seen for days."""
    desk = pages.Desk(pages.place(code, request.user), "left_behind")  # type: ignore[arg-type]
    return answer(request, "left_behind", desk, 200, page=pages.left_behind_page(desk.place, now=timezone.now()))


@room
@require_GET
def free(request: HttpRequest, code: str) -> HttpResponse:
    """What is free, when and where, and who holds the rest."""
    desk = pages.Desk(pages.place(code, request.user), "free")  # type: ignore[arg-type]
    area_id, zone = desk.place.area_id, desk.place.zone
    page = free_page(area_id=area_id, zone=zone, asked=request.GET, now=timezone.now())
    return answer(request, "free", desk, 400 if page.errors else 200, page=page)


@room
@require_GET
def find(request: HttpRequest, code: str) -> HttpResponse:
    """Look a unit up; a number that is known leads straight to its history."""
    desk = pages.Desk(pages.place(code, request.user), "find")  # type: ignore[arg-type]
    form = FindForm(request.GET)
    text = form.cleaned_data["text"].strip() if form.is_valid() else ""
    found = selectors.find_units(area_id=desk.place.area_id, text=text) if text else ()
    if len(found) == 1:
        return redirect("warehouse:unit", number=found[0].number)
    models = tuple(EquipmentModel.objects.filter(loan=None).order_by("kind", "name").values_list("pk", "name"))
    return answer(request, "find", replace(desk, typed=text), 200, found=found, asked=bool(text), models=models)


@room
@require_GET
def tags(request: HttpRequest) -> HttpResponse:
    """A PDF of tags for a model, for a range of numbers, or for a model's within a range."""
    form = TagsForm(request.GET)
    if not form.is_valid():
        raise Unusable(str(next(iter(form.errors.values()))[0]), where="first")
    first, last = (unit_number(form.cleaned_data[end]) if form.cleaned_data[end] else "" for end in ("first", "last"))
    chosen = labels.tags_of(first=first, last=last, model_id=form.cleaned_data["model_id"])
    if not chosen:
        raise NotThere("No unit is of this model with a number in this range. Look at the numbers again.")
    if len(chosen) > labels.AT_MOST:
        raise Unusable(f"These are more than {labels.AT_MOST} tags at once. Name a smaller range.", where="last")
    return HttpResponse(
        labels.tags_pdf(chosen),
        content_type="application/pdf",
        headers={"Content-Disposition": 'inline; filename="unit-tags.pdf"'},
    )
