"""What holds for every page at once: nobody looks into others' areas, and who saw private facts is written down."""

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from config.errors import refusal_page
from jobs import areas, looks
from jobs.models import Job, Visit

# Addresses that show names, numbers, access codes or care needs, and what stands in them.
SHOWS_PRIVATE = {
    "desk/calls/<int:call_id>": "call_id",
    "desk/jobs/<str:number>": "number",
    "crew/stops/<int:visit_id>": "visit_id",
    "api/v1/calls/<int:call_id>": "call_id",
}
# Where a job is named by its number instead of its id.
BY_NUMBER = "desk/jobs/<str:number>"


class PageLimits:
    """Middleware after the sign-in: areas before the view, the trail of looks after it."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        match = request.resolver_match
        if match is not None and request.method == "GET" and response.status_code == 200:
            named = SHOWS_PRIVATE.get(match.route)
            if named and request.user.is_authenticated:
                _write_down(request, match.route, named, match.kwargs[named])
        return response

    def process_view(self, request: HttpRequest, view: Any, args: Any, kwargs: dict[str, Any]) -> HttpResponse | None:
        """Refuse an address of the desk that names something of another area; other rooms know their own."""
        match = request.resolver_match
        if match is None or not request.user.is_authenticated or not match.route.startswith("desk/"):
            return None
        named = {"job_number": kwargs["number"]} if match.route.startswith(BY_NUMBER) else kwargs
        try:
            areas.require_sight(request.user, named)
        except areas.OtherArea as refusal:
            return refusal_page(request, refusal)
        return None


def _write_down(request: HttpRequest, route: str, named: str, value: Any) -> None:
    subject: dict[str, int | None]
    if named == "call_id":
        subject = {"call_id": value}
    elif named == "number":
        subject = {"job_id": Job.objects.filter(number=value).values_list("pk", flat=True).first()}
    else:
        subject = {"job_id": Visit.objects.filter(pk=value).values_list("job_id", flat=True).first()}
    if any(subject.values()):
        looks.note(viewer=request.user, now=timezone.now(), what=route, **subject)  # type: ignore[arg-type]
