"""
What holds for every request at once: it can be kept at all, nobody looks into others' areas, and who saw private
facts is written down.
"""

from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.utils import timezone

from config.errors import API, problem_answer, refusal_page
from jobs import areas, looks
from jobs.api_parser import LARGEST_WHOLE
from jobs.models import Job, Visit
from jobs.refusals import Refusal

# Addresses that show names, numbers, access codes or care needs, and what stands in them.
SHOWS_PRIVATE = {
    "desk/calls/<int:call_id>": "call_id",
    "desk/jobs/<str:number>": "number",
    "crew/stops/<int:visit_id>": "visit_id",
    "api/v1/calls/<int:call_id>": "call_id",
}
# Where a job is named by its number instead of its id.
BY_NUMBER = "desk/jobs/<str:number>"


class RequestTooLarge(Refusal):
    """A request carries more than anything that is taken here, a photo being the largest."""

    code = "request_too_large"
    status = 413


class NotText(Refusal):
    """What was sent holds the character NUL, which no database keeps."""

    code = "not_text"
    status = 400


class RequestLimits:
    """Middleware: what is larger than anything that can be meant, or cannot be kept, reaches no view."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        length = request.headers.get("Content-Length", "")
        most: int = settings.LARGEST_REQUEST
        if length.isdigit() and int(length) > most:
            said = f"This is larger than {most // 2**20} MB. Send a smaller file, or a part of it."
            return _refused(request, RequestTooLarge(said))
        return self.get_response(request)

    def process_view(self, request: HttpRequest, view: Any, args: Any, kwargs: dict[str, Any]) -> HttpResponse | None:
        """
        :raises Http404: if the address names a number or a text that nothing here can bear.
        """
        for value in kwargs.values():
            if (isinstance(value, int) and value > LARGEST_WHOLE) or (isinstance(value, str) and "\0" in value):
                raise Http404
        sent = [request.GET]
        if not request.path.startswith(API) and request.method == "POST":
            sent.append(request.POST)
        named = next((name for values in sent for name in _with_nul(values)), None)
        if named is None:
            return None
        told = named.replace("\0", "")
        return _refused(request, NotText(f"{told} holds the character NUL, which cannot be kept. Type it again."))


def _with_nul(values: QueryDict) -> list[str]:
    return [name for name, several in values.lists() if "\0" in name or any("\0" in value for value in several)]


def _refused(request: HttpRequest, refusal: Refusal) -> HttpResponse:
    if request.path.startswith(API):
        return problem_answer(refusal.status, refusal.code, str(refusal))
    return refusal_page(request, refusal)


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
