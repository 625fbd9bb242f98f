"""Read what was scanned, make one call, answer in place. Everything works as a plain form without JavaScript."""

from collections.abc import Callable
from dataclasses import replace
from functools import wraps
from typing import Any

from django import forms
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from equipment import custody, labels, selectors
from equipment.numbers import unit_number, unit_numbers
from equipment.warehouse import pages
from equipment.warehouse.forms import ConditionForm, FindForm, KeyedForm, ScanForm, StepsForm, TagsForm, UndoForm
from jobs import access
from jobs.refusals import NotThere, Refusal, Unusable

View = Callable[..., HttpResponse]


def room(view: View) -> View:
    """Only for those who may enter the warehouse; what is not there answers as such."""

    @login_required
    @wraps(view)
    def guarded(request: HttpRequest, **kwargs: Any) -> HttpResponse:
        try:
            access.require_room(request.user, "warehouse")
            return view(request, **kwargs)
        except Refusal as refusal:
            return render(request, "equipment/warehouse/refused.html", {"refusal": refusal}, status=refusal.status)

    return guarded


def _done(request: HttpRequest, desk: pages.Desk, deeds: dict[str, Callable[[], pages.Said]]) -> tuple[pages.Desk, int]:
    """Do what the pressed button names; what was typed stays after a refusal."""
    if request.method != "POST":
        return desk, 200
    try:
        deed = deeds.get(request.POST.get("do", ""))
        if deed is None:
            raise Unusable("This button is not known here. Load the page again.")
        return replace(desk, said=deed()), 200
    except Refusal as refusal:
        typed = request.POST.get("numbers", "")
        return replace(desk, said=pages.said_no(refusal), typed=typed), refusal.status


def _read(form: KeyedForm, request: HttpRequest) -> dict[str, Any]:
    """The form's values with the arguments that every use case takes; the clock is read here."""
    if not form.is_valid():
        field, errors = next(iter(form.errors.items()))
        raise Unusable(str(errors[0]), where=str(field))
    return {**form.cleaned_data, "actor": request.user, "now": timezone.now()}


def _undo(request: HttpRequest) -> pages.Said:
    return pages.said_of((custody.undo_scan(**_read(UndoForm(request.POST), request)),))


def _answer(request: HttpRequest, template: str, desk: pages.Desk, status: int, **more: Any) -> HttpResponse:
    with timezone.override(desk.place.zone):
        return render(request, f"equipment/warehouse/{template}.html", {"desk": desk, **more}, status=status)


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
    return _answer(request, "departures", desk, 200, page=page)


@room
@require_http_methods(["GET", "POST"])
def load(request: HttpRequest, code: str, load_list_id: int) -> HttpResponse:
    """One load list, shrinking as it is scanned."""
    desk = pages.Desk(pages.place(code, request.user), "departures")  # type: ignore[arg-type]
    listed = _list_of(desk.place, load_list_id)

    def scan() -> pages.Said:
        values = _scanned(request)
        scanned = custody.scan_out(**values, vehicle_id=listed.vehicle_id, load_list_id=listed.id)
        return pages.said_of(scanned.scans)

    desk, status = _done(request, desk, {"scan": scan, "undo": lambda: _undo(request)})
    if request.method == "POST":
        listed = selectors.load_list(load_list_id)
    return _answer(request, "load", desk, status, listed=listed)


def _list_of(there: pages.Place, load_list_id: int) -> selectors.LoadListView:
    listed = selectors.load_list(load_list_id)
    if listed.warehouse_id != there.id:
        raise NotThere("This load list belongs to another warehouse. Choose one from the departures.")
    return listed


def _scanned(request: HttpRequest) -> dict[str, Any]:
    values = _read(ScanForm(request.POST), request)
    return {**values, "numbers": unit_numbers(values["numbers"])}


@room
@require_http_methods(["GET", "POST"])
def restock(request: HttpRequest, code: str, vehicle_code: str) -> HttpResponse:
    """One vehicle, to its standing stock."""
    desk = pages.Desk(pages.place(code, request.user), "departures")  # type: ignore[arg-type]
    page = pages.restock_page(desk.place, vehicle_code, now=timezone.now())

    def scan() -> pages.Said:
        values = _scanned(request)
        scanned = custody.scan_out(**values, vehicle_id=page.vehicle_id, warehouse_id=desk.place.id)
        return pages.said_of(scanned.scans)

    desk, status = _done(request, desk, {"scan": scan, "undo": lambda: _undo(request)})
    if request.method == "POST":
        page = pages.restock_page(desk.place, vehicle_code, now=timezone.now())
    return _answer(request, "restock", desk, status, page=page)


@room
@require_http_methods(["GET", "POST"])
def returns(request: HttpRequest, code: str) -> HttpResponse:
    """Units coming in, against what the jobs should give back."""
    desk = pages.Desk(pages.place(code, request.user), "returns")  # type: ignore[arg-type]

    def scan() -> pages.Said:
        return pages.said_of(custody.scan_in(**_scanned(request), warehouse_id=desk.place.id).scans)

    desk, status = _done(request, desk, {"scan": scan, "undo": lambda: _undo(request)})
    now = timezone.now()
    jobs = selectors.recent_returns(warehouse_id=desk.place.id, now=now)
    arrivals = selectors.recent_arrivals(warehouse_id=desk.place.id, now=now)
    return _answer(request, "returns", desk, status, jobs=jobs, arrivals=arrivals)


@room
@require_http_methods(["GET", "POST"])
def cleaning(request: HttpRequest, code: str) -> HttpResponse:
    """What waits to be cleaned, tested, decontaminated or repaired."""
    desk = pages.Desk(pages.place(code, request.user), "cleaning")  # type: ignore[arg-type]
    deeds = {
        "steps": lambda: _steps(request),
        "condition": lambda: _condition(request),
        "undo": lambda: _undo(request),
    }
    desk, status = _done(request, desk, deeds)
    queue = selectors.cleaning_queue(warehouse_id=desk.place.id, now=timezone.now())
    return _answer(request, "cleaning", desk, status, queue=queue)


def _steps(request: HttpRequest) -> pages.Said:
    values = _read(StepsForm(request.POST), request)
    numbers, steps = (values.pop("number"),), tuple(values.pop("steps"))
    return pages.said_of(custody.set_condition(**values, numbers=numbers, condition="ready", steps=steps).scans)


def _condition(request: HttpRequest) -> pages.Said:
    values = _read(ConditionForm(request.POST), request)
    numbers = (values.pop("number"),)
    return pages.said_of(custody.set_condition(**values, numbers=numbers).scans)


@room
@require_GET
def left_behind(request: HttpRequest, code: str) -> HttpResponse:
    """Units at finished jobs, and units that nobody has seen for days."""
    desk = pages.Desk(pages.place(code, request.user), "left_behind")  # type: ignore[arg-type]
    return _answer(request, "left_behind", desk, 200, page=pages.left_behind_page(desk.place, now=timezone.now()))


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
    return _answer(request, "find", replace(desk, typed=text), 200, found=found, asked=bool(text))


@room
@require_GET
def tags(request: HttpRequest) -> HttpResponse:
    """A PDF of tags for a range of numbers."""
    form = TagsForm(request.GET)
    if not form.is_valid():
        raise Unusable("Name the first and the last number of the tags.", where="first")
    chosen = labels.tags_of(first=unit_number(form.cleaned_data["first"]), last=unit_number(form.cleaned_data["last"]))
    if not chosen:
        raise NotThere("No unit has a number in this range. Look at the numbers again.")
    return HttpResponse(
        labels.tags_pdf(chosen),
        content_type="application/pdf",
        headers={"Content-Disposition": 'inline; filename="unit-tags.pdf"'},
    )


@room
@require_http_methods(["GET", "POST"])
def unit(request: HttpRequest, number: str) -> HttpResponse:
    """One unit's whole history, and what can be said about it."""
    there = pages.places(request.user)  # type: ignore[arg-type]
    if not there:
        raise NotThere("You belong to no area with a warehouse. Ask your manager.")
    desk = pages.Desk(there[0], "find")
    deeds = {"condition": lambda: _condition(request), "undo": lambda: _undo(request)}
    desk, status = _done(request, desk, deeds)
    history = selectors.unit_history(unit_number(number))
    form: forms.Form = ConditionForm(request.POST if desk.said and desk.said.shape == pages.WRONG else None)
    return _answer(request, "unit", desk, status, history=history, form=form)
