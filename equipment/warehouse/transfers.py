"""Between warehouses: sending, what is on the road, receiving, and naming what did not arrive."""

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from equipment import custody, selectors
from equipment.warehouse import pages
from equipment.warehouse.answering import answer, done, not_found, room, scanned_timed, undo


@room
@require_http_methods(["GET", "POST"])
def receive(request: HttpRequest, code: str) -> HttpResponse:
    """What comes from other warehouses: scanned as it arrives; the rest is named until it is here or not found."""
    there = pages.places(request.user)  # type: ignore[arg-type]
    desk = pages.Desk(pages.place_among(there, code), "transfers")

    def scan() -> pages.Said:
        received = custody.receive_transfer(**scanned_timed(request), warehouse_id=desk.place.id)
        return pages.said_of_receipt(received)

    deeds = {"scan": scan, "undo": lambda: undo(request), "not_found": lambda: not_found(request)}
    desk, status = done(request, desk, deeds)
    road = selectors.on_the_road(warehouse_id=desk.place.id, now=timezone.now())
    others = tuple(place for place in there if place.id != desk.place.id)
    return answer(request, "transfers", desk, status, road=road, others=others)


@room
@require_http_methods(["GET", "POST"])
def send(request: HttpRequest, code: str, to_code: str) -> HttpResponse:
    """Units going to another warehouse, one scan each."""
    there = pages.places(request.user)  # type: ignore[arg-type]
    desk, to = pages.Desk(pages.place_among(there, code), "transfers"), pages.place_among(there, to_code)

    def scan() -> pages.Said:
        sent = custody.send_transfer(**scanned_timed(request), from_warehouse_id=desk.place.id, to_warehouse_id=to.id)
        return pages.said_of(sent.scans)

    desk, status = done(request, desk, {"scan": scan, "undo": lambda: undo(request)})
    road = selectors.on_the_road(warehouse_id=to.id, now=timezone.now())
    mine = tuple(row for row in road.coming if row.origin == desk.place.name)
    return answer(request, "send", desk, status, to=to, sent=mine)
