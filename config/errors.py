"""Refusals on their way out: RFC 9457 problem details for the API, a page or a fragment for a person."""

import sys
from collections.abc import Callable
from typing import Any

from django.core.exceptions import PermissionDenied
from django.db import InterfaceError, OperationalError
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.views import defaults
from rest_framework import exceptions
from rest_framework.response import Response
from rest_framework.views import exception_handler

from jobs.refusals import Refusal

PROBLEM = "application/problem+json"
API = "/api/"
RETRY_AFTER_S = 5


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


def failed(request: HttpRequest) -> HttpResponse:
    """
    What nobody expected: 503 when the database does not take it now, so that whoever sent it sends it again; else 500.

    Asks nothing of the database, and is the same net under pages and API.
    """
    if isinstance(sys.exc_info()[1], OperationalError | InterfaceError):
        status, code = 503, "database_away"
        detail = "The database cannot take this at the moment. Send the same again in a few seconds, with the same key."
    else:
        status, code = 500, "failed"
        detail = "The program failed on this. Send it again with the same key; if it fails twice, tell your manager."
    answer: HttpResponse
    if request.path.startswith(API):
        answer = problem_answer(status, code, detail)
    else:
        answer = HttpResponse(render_to_string(f"{status}.html"), status=status)
    if status == 503:
        answer["Retry-After"] = str(RETRY_AFTER_S)
    return answer


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
