"""The practice night's pages: the next call rings, the caller goes on, the review."""

from typing import Any
from uuid import uuid4

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from dispatch.desk.views import area_of
from dispatch.practice import review, ring
from jobs import access
from jobs.people import signed_in
from jobs.sent import key_of


@login_required
@require_http_methods(["GET", "POST"])
def practice(request: HttpRequest) -> HttpResponse:
    """`/desk/practice`: what rang so far; a POST lets the next call ring and opens it."""
    access.require_room(request.user, "desk")
    ring.require_practice()
    area = area_of(request)
    if request.method == "POST":
        rung = ring.ring_practice_call(**_common(request), area_id=area.pk)
        return redirect("desk:call", rung.call_id)
    timezone.activate(area.zone)
    context = {"calls": review.practice_calls(area.pk), "key": uuid4()}
    return render(request, "dispatch/desk/practice.html", context)


@login_required
@require_http_methods(["GET", "POST"])
def words(request: HttpRequest, call_id: int) -> HttpResponse:
    """What the caller has said so far; a POST lets them go on."""
    access.require_room(request.user, "desk")
    ring.require_practice()
    if request.method == "POST":
        heard = ring.hear_practice_line(**_common(request), call_id=call_id)
        if not request.headers.get("HX-Request"):
            return redirect("desk:call", call_id)
    else:
        heard = ring.heard_of(call_id)
    return render(request, "dispatch/desk/_practice_words.html", {"heard": heard, "key": uuid4()})


@login_required
@require_GET
def practice_review(request: HttpRequest, call_id: int) -> HttpResponse:
    """`/desk/practice/ID`: the review."""
    access.require_room(request.user, "desk")
    ring.require_practice()
    return render(request, "dispatch/desk/practice_review.html", {"page": review.review(call_id), "key": uuid4()})


def _common(request: HttpRequest) -> dict[str, Any]:
    return {"key": key_of(request), "actor": signed_in(request.user), "now": timezone.now()}
