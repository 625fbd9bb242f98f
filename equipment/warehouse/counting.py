"""Counting: today's list, a whole vehicle, and the differences that somebody must explain."""

from datetime import datetime, timedelta

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.dateparse import parse_datetime
from django.views.decorators.http import require_http_methods

from equipment import custody, selectors
from equipment.count_lists import draw_count_list
from equipment.custody import Counted
from equipment.models import Vehicle
from equipment.warehouse import pages
from equipment.warehouse.answering import answer, done, not_found, read, room, scanned_timed, undo
from equipment.warehouse.forms import DrawForm, ExplainForm
from jobs.refusals import NotThere, Unusable

# A count of a vehicle that was begun longer ago than this begins anew.
ONE_COUNT = timedelta(hours=12)


@room
@require_http_methods(["GET", "POST"])
def daily(request: HttpRequest, code: str) -> HttpResponse:
    """Today's list of what to look for here, shrinking as it is scanned; and the vehicles to be counted whole."""
    desk = pages.Desk(pages.place(code, request.user), "counting")  # type: ignore[arg-type]

    def draw() -> pages.Said:
        draw_count_list(**read(DrawForm(request.POST), request), warehouse_id=desk.place.id)
        return pages.Said(pages.RIGHT, "List drawn", "It stays the same all day; count in any order.")

    def scan() -> pages.Said:
        values = scanned_timed(request)
        return _said(values["numbers"], custody.count_units(**values, warehouse_id=desk.place.id))

    deeds = {"draw": draw, "scan": scan, "undo": lambda: undo(request), "not_found": lambda: not_found(request)}
    desk, status = done(request, desk, deeds)
    day = timezone.now().astimezone(desk.place.zone).date()
    listed = selectors.count_list(warehouse_id=desk.place.id, day=day)
    vehicles = selectors.vehicles_to_count(warehouse_id=desk.place.id)
    return answer(request, "counting", desk, status, listed=listed, vehicles=vehicles, day=day)


@room
@require_http_methods(["GET", "POST"])
def vehicle(request: HttpRequest, code: str, vehicle_code: str) -> HttpResponse:
    """Everything aboard one vehicle, scanned and compared with the record."""
    desk = pages.Desk(pages.place(code, request.user), "counting")  # type: ignore[arg-type]
    row = Vehicle.objects.filter(code=vehicle_code, area=desk.place.area_id).first()
    if row is None:
        raise NotThere(f"There is no vehicle {vehicle_code!r} here. Choose one from the list.")

    def scan() -> pages.Said:
        values = scanned_timed(request)
        return _said(values["numbers"], custody.count_units(**values, vehicle_id=row.pk))

    began_at = _began_at(request)
    deeds = {"scan": scan, "undo": lambda: undo(request), "not_found": lambda: not_found(request)}
    desk, status = done(request, desk, deeds)
    count = selectors.vehicle_count(vehicle_id=row.pk, began_at=began_at)
    return answer(request, "count_vehicle", desk, status, count=count, vehicle=row.name, vehicle_code=row.code)


def _began_at(request: HttpRequest) -> datetime:
    """When this count began: it stands in the address, so that every scan and every reload belong to the same count."""
    now = timezone.now()
    text = request.GET.get("began", "")
    try:
        began = parse_datetime(text)
    except ValueError:
        began = None
    if began is None or began.tzinfo is None or not now - ONE_COUNT < began <= now:
        return now
    return began


@room
@require_http_methods(["GET", "POST"])
def differences(request: HttpRequest, code: str) -> HttpResponse:
    """Where record and floor differed, and what had happened."""
    desk = pages.Desk(pages.place(code, request.user), "differences")  # type: ignore[arg-type]

    def explain() -> pages.Said:
        form = ExplainForm(request.POST)
        values = read(form, request)
        custody.settle_discrepancy(
            key=values["key"],
            actor=values["actor"],
            now=values["now"],
            discrepancy_id=values["id"],
            explanation=form.explanation(),
        )
        return pages.Said(pages.RIGHT, "Explained", f"{form.explanation()}.")

    desk, status = done(request, desk, {"explain": explain})
    rows = selectors.open_discrepancies(area_id=desk.place.area_id, at_most=50)
    return answer(request, "differences", desk, status, rows=rows, reasons=ExplainForm.REASONS)


def _said(numbers: tuple[str, ...], counted: Counted) -> pages.Said:
    """A unit where the record has it is right; one that the record had elsewhere is counted here, with a caution."""
    if counted.brought_here:
        said = pages.said_of(counted.brought_here)
        return pages.Said(
            pages.CAUTION,
            said.word,
            f"{said.sentence} The record had it elsewhere; the difference is on the list of differences.",
            undo=said.undo,
        )
    if not numbers:
        raise Unusable("Nothing was scanned. Scan a tag or type its four digits.", where="numbers")
    word = f"{numbers[0]} Counted" if len(numbers) == 1 else f"{len(numbers)} Counted"
    return pages.Said(pages.RIGHT, word, "Here, as the record says.")
