"""Out to the repairer and back."""

from dataclasses import replace

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_http_methods

from equipment import custody, selectors
from equipment.models import Condition
from equipment.numbers import unit_numbers
from equipment.selectors.service import due_for_service
from equipment.warehouse import pages
from equipment.warehouse.answering import answer, done, read, room, scanned_late, undo
from equipment.warehouse.forms import RepairForm
from equipment.warehouse.servicing import serviced


@room
@require_http_methods(["GET", "POST"])
def repair(request: HttpRequest, code: str) -> HttpResponse:
    """Units back from the repairer by the big field; those that need repair, here or out; what is due for service."""
    desk = pages.Desk(pages.place(code, request.user), "repair")  # type: ignore[arg-type]

    def back() -> pages.Said:
        return pages.said_of(custody.scan_in(**scanned_late(request), warehouse_id=desk.place.id).scans)

    def out() -> pages.Said:
        values = read(RepairForm(request.POST), request)
        values["numbers"] = unit_numbers(values["numbers"])
        return pages.said_of(custody.set_condition(**values, condition=Condition.BROKEN, in_repair=True).scans)

    deeds = {"scan": back, "out": out, "serviced": lambda: serviced(request), "undo": lambda: undo(request)}
    desk, status = done(request, desk, deeds)
    rows = selectors.repairs(area_id=desk.place.area_id, warehouse_id=desk.place.id)
    refused = request.POST if status != 200 and request.POST.get("do") == "out" else {}
    if refused:
        desk = replace(desk, typed="")
    return answer(
        request, "repair", desk, status, rows=rows, refused=refused, due=due_for_service(warehouse_id=desk.place.id)
    )
