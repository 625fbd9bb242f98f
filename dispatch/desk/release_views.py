"""Releasing a tired lead: choose who rests, and read what it did and who must be told."""

from datetime import datetime
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from dispatch.desk.release_pages import release_choice, release_done
from dispatch.desk.views import area_of
from dispatch.releasing import release_lead
from jobs import access
from jobs.models import Area
from jobs.people import signed_in
from jobs.refusals import Refusal, Unusable
from jobs.sent import key_of


@login_required
@require_http_methods(["GET", "POST"])
def release(request: HttpRequest) -> HttpResponse:
    """`/desk/release`: who leads now and in the morning; one press releases one of them."""
    access.require_room(request.user, "desk")
    area, now = area_of(request), timezone.now()
    timezone.activate(area.zone)
    refusal = None
    if request.method == "POST":
        try:
            key = key_of(request)
            release_lead(
                key=key,
                actor=signed_in(request.user),
                now=now,
                person_id=_whole(request.POST.get("person_id", "")),
                until=_until(request.POST.get("until", ""), area),
                reason=request.POST.get("reason", ""),
            )
            return redirect("desk:released", key)
        except Refusal as refused:
            refusal = refused
    context = {"page": release_choice(area=area, now=now), "refusal": refusal, "typed": request.POST}
    return render(request, "dispatch/desk/release.html", context, status=200 if refusal is None else refusal.status)


@login_required
@require_GET
def released(request: HttpRequest, key: UUID) -> HttpResponse:
    """`/desk/release/KEY`: what it did, and who must be told."""
    access.require_room(request.user, "desk")
    area = area_of(request)
    page = release_done(key=key, area=area)
    if page is None:
        raise Http404("There is no such release.")
    timezone.activate(area.zone)
    return render(request, "dispatch/desk/released.html", {"page": page})


def _whole(typed: str) -> int:
    if not typed.isdecimal() or len(typed) > 12:
        raise Unusable("Choose the lead who is to rest.", where="person_id")
    return int(typed)


def _until(typed: str, area: Area) -> datetime | None:
    if not typed.strip():
        return None
    try:
        return datetime.fromisoformat(typed).replace(tzinfo=area.zone)
    except ValueError as error:
        raise Unusable("Give day and time, such as 2026-01-16 14:00, or leave it empty.", where="until") from error
