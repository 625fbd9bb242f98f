"""What the room's devices keep besides its pages."""

from dataclasses import astuple

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils import timezone
from django.views.decorators.http import require_GET

from equipment import selectors
from equipment.warehouse import pages
from equipment.warehouse.answering import room


@room
@require_GET
def units(request: HttpRequest, code: str) -> HttpResponse:
    """`units.json`: when it was made, and of each unit its number, model, place, state and whether it must stop."""
    there = pages.place(code, request.user)  # type: ignore[arg-type]
    kept = [astuple(unit) for unit in selectors.units_for_device(area_id=there.area_id)]
    return JsonResponse({"at": timezone.now().isoformat(), "units": kept}, headers={"Cache-Control": "no-store"})
