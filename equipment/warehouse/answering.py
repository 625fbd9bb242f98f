"""How every page of the room reads what was sent and answers in place; works as a plain form without JavaScript."""

from collections.abc import Callable
from dataclasses import replace
from functools import wraps
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from equipment import custody
from equipment.numbers import unit_numbers
from equipment.warehouse import pages
from equipment.warehouse.forms import KeyedForm, LateScanForm, NotFoundForm, ScanForm, TimedScanForm, UndoForm
from jobs import access
from jobs.refusals import Refusal, Unusable

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


def done(request: HttpRequest, desk: pages.Desk, deeds: dict[str, Callable[[], pages.Said]]) -> tuple[pages.Desk, int]:
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


def read(form: KeyedForm, request: HttpRequest) -> dict[str, Any]:
    """The form's values with the arguments that every use case takes; the clock is read here."""
    if not form.is_valid():
        field, errors = next(iter(form.errors.items()))
        raise Unusable(str(errors[0]), where=str(field))
    return {**form.cleaned_data, "actor": request.user, "now": timezone.now()}


def undo(request: HttpRequest) -> pages.Said:
    """Take back the last scan."""
    return pages.said_of((custody.undo_scan(**read(UndoForm(request.POST), request)),))


def not_found(request: HttpRequest) -> pages.Said:
    """Write a unit down as looked for and not found."""
    values = read(NotFoundForm(request.POST), request)
    number = values.pop("number")
    return pages.said_of(custody.not_found(**values, numbers=(number,)).scans)


def answer(request: HttpRequest, template: str, desk: pages.Desk, status: int, **more: Any) -> HttpResponse:
    """The page, in the warehouse's own time."""
    with timezone.override(desk.place.zone):
        return render(request, f"equipment/warehouse/{template}.html", {"desk": desk, **more}, status=status)


def scanned(request: HttpRequest) -> dict[str, Any]:
    """What the big field took, with its numbers read."""
    values = read(ScanForm(request.POST), request)
    return {**values, "numbers": unit_numbers(values["numbers"])}


def scanned_timed(request: HttpRequest) -> dict[str, Any]:
    """As `scanned`, with when it happened on a device that had no network."""
    values = read(TimedScanForm(request.POST), request)
    return {**values, "numbers": unit_numbers(values["numbers"])}


def scanned_late(request: HttpRequest) -> dict[str, Any]:
    """As `scanned_timed`, and whether it happened whatever we say."""
    values = read(LateScanForm(request.POST), request)
    return {**values, "numbers": unit_numbers(values["numbers"])}
