"""Refusals on their way out: RFC 9457 problem details for the API, a page or a fragment for a person."""

from collections.abc import Callable
from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.views import defaults
from rest_framework import exceptions
from rest_framework.response import Response
from rest_framework.views import exception_handler

from jobs.refusals import Refusal

PROBLEM = "application/problem+json"
API = "/api/"


class RefusalPages:
    """
    Middleware that answers with a refusal no view caught in place.

    A room shows its refusals beside the field and keeps what was typed; this is the net under all of them.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponse | None:
        """Render a `Refusal`; leave every other exception to Django."""
        if not isinstance(error, Refusal):
            return None
        return refusal_page(request, error)


def refusal_page(request: HttpRequest, refusal: Refusal) -> HttpResponse:
    """The whole page, or its fragment for htmx."""
    template = "jobs/_refusal.html" if getattr(request, "htmx", False) else "refused.html"
    return render(request, template, {"refusal": refusal}, status=refusal.status)


def problem_details(error: Exception, context: dict[str, Any]) -> Response | None:
    """DRF's exception handler: every refusal answers with `type`, `title`, `status`, `detail`, `code` and its data."""
    if isinstance(error, Refusal):
        return _problem(error.status, error.code, str(error), error.as_data())
    answer = exception_handler(error, context)
    if answer is None:
        return None
    code = _code(error)
    extra: dict[str, Any] = {}
    if isinstance(error, exceptions.ValidationError):
        extra["errors"] = answer.data
    detail = str(getattr(error, "detail", error)) if not extra else "Some of what was sent cannot be used; see errors."
    problem = _problem(answer.status_code, code, detail, extra)
    for name in ("WWW-Authenticate", "Retry-After", "Allow"):
        if name in answer:
            problem[name] = answer[name]
    return problem


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """An address that nobody has: problem details for a program, the page for a person."""
    if not request.path.startswith(API):
        return defaults.page_not_found(request, exception)
    return problem_answer(404, "not_found", f"There is nothing at {request.path}. See {API}v1/docs for what there is.")


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """A request that cannot be read at all."""
    if not request.path.startswith(API):
        return defaults.bad_request(request, exception)
    return problem_answer(400, "parse_error", "The request cannot be read. Send one that HTTP and the schema allow.")


def broken(request: HttpRequest) -> HttpResponse:
    """Our own mistake; what it was is in the log, under the request's id."""
    if not request.path.startswith(API):
        return defaults.server_error(request)
    return problem_answer(
        500, "error", "Something went wrong here; nothing was changed. Tell whoever runs this when it was."
    )


def problem_answer(status: int, code: str, detail: str, **headers: str) -> HttpResponse:
    """Problem details outside the views of the API, such as before one was found."""
    return JsonResponse(problem_of(status, code, detail), status=status, content_type=PROBLEM, headers=headers)


def problem_of(status: int, code: str, detail: str) -> dict[str, Any]:
    """The members that RFC 9457 gives a problem, and our code."""
    return {
        "type": f"urn:ebbline:{code}",
        "title": code.replace("_", " "),
        "status": status,
        "detail": detail,
        "code": code,
    }


def _code(error: Exception) -> str:
    if isinstance(error, Http404):
        return "not_found"
    if isinstance(error, PermissionDenied):
        return "not_allowed"
    return str(getattr(error, "default_code", "error"))


def _problem(status: int, code: str, detail: str, extra: dict[str, Any]) -> Response:
    return Response({**extra, **problem_of(status, code, detail)}, status=status, content_type=PROBLEM)
