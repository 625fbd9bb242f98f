"""Every request: its id, its line in the log, its count and its time."""

import logging
import re
import time
from collections.abc import Callable
from uuid import uuid4

from django.http import HttpRequest, HttpResponse

from config import logs, metrics

HEADER = "X-Request-ID"
WELL_FORMED = re.compile(r"[A-Za-z0-9][A-Za-z0-9-]{7,63}")
log = logging.getLogger(__name__)


class RequestLog:
    """Middleware, the outermost: takes over a proxy's well-formed id or makes one, and gives it back in the answer."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        given = request.headers.get(HEADER, "")
        name = given if WELL_FORMED.fullmatch(given) else uuid4().hex
        mine = logs.request_id.set(name)
        began = time.perf_counter()
        try:
            response = self.get_response(request)
            took_s = time.perf_counter() - began
            view = _view(request)
            metrics.count(view=view, method=request.method or "", status=response.status_code, took_s=took_s)
            # The pattern of the address, not the address: what was searched for is nobody's business.
            figures = {
                "view": view,
                "method": request.method,
                "status": response.status_code,
                "ms": round(took_s * 1000, 1),
            }
            log.info("answered", extra=figures)
            response.headers[HEADER] = name
            return response
        finally:
            logs.request_id.reset(mine)


def _view(request: HttpRequest) -> str:
    match = request.resolver_match
    if match is None:
        return "none"
    return match.view_name if match.url_name else match.route
