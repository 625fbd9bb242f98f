"""The desk's board, its map and its answers to call-outs: read, call one use case, answer."""

from datetime import datetime

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.dateparse import parse_datetime
from django.views.decorators.http import require_GET, require_POST

from dispatch import callouts, changes
from dispatch.desk import map_data, pages
from jobs import access
from jobs.models import Area
from jobs.people import signed_in
from jobs.refusals import Refusal
from jobs.sent import key_of, whole_of


def area_of(request: HttpRequest) -> Area:
    """
    The area of what the address names, else the one chosen as `?area=CODE`, else that of the first membership.

    What was chosen stays chosen until the session ends.
    """
    if (named := _area_named(request)) is not None:
        return named
    user = signed_in(request.user)
    mine, chosen = access.areas_of(user), request.GET.get("area") or request.session.get("area")
    if chosen:
        reach = Area.objects.filter(code=chosen)
        found = (reach if mine is None else reach.filter(pk__in=mine)).first()
        if found is not None:
            request.session["area"] = found.code
            return found
    first = Area.objects.filter(memberships__user=user).order_by("pk").first()
    return first or get_object_or_404(Area.objects.order_by("pk")[:1])


def _area_named(request: HttpRequest) -> Area | None:
    """Where the address names a job or a plan, whose area the frame of all pages has let through."""
    match = request.resolver_match
    if match is None or not ({"number", "plan_id"} & match.kwargs.keys()):
        return None
    if "plan_id" in match.kwargs:
        return Area.objects.filter(plans__pk=match.kwargs["plan_id"]).first()
    return Area.objects.filter(jobs__number=match.kwargs["number"]).first()


@login_required
@require_GET
def board(request: HttpRequest) -> HttpResponse:
    """`/desk`; htmx asks for the fragment alone and gets it."""
    access.require_room(request.user, "desk")
    now = timezone.now()
    area = area_of(request)
    shown = pages.board(area=area, now=now)
    changed = changes.changes_since_look(area=area, viewer=signed_in(request.user), now=now)
    timezone.activate(area.zone)
    template = "dispatch/desk/_board.html" if request.headers.get("HX-Request") else "dispatch/desk/board.html"
    return render(request, template, {"board": shown, "changes": changed})


@login_required
@require_POST
def looked(request: HttpRequest) -> HttpResponse:
    """What others changed was seen, up to the moment at which the page was made."""
    access.require_room(request.user, "desk")
    try:
        until = parse_datetime(request.POST.get("until", ""))
    except ValueError:
        until = None
    changes.mark_looked(
        key=key_of(request),
        actor=signed_in(request.user),
        now=_now(),
        area_id=area_of(request).pk,
        until=_now() if until is None or until.tzinfo is None else until,
    )
    return redirect("desk:board")


@login_required
@require_POST
def answer(request: HttpRequest, call_out_id: int) -> HttpResponse:
    """The desk answers a call-out for somebody it has on the phone."""
    access.require_room(request.user, "desk")
    try:
        callouts.answer_call_out(
            key=key_of(request),
            actor=signed_in(request.user),
            now=_now(),
            call_out_id=call_out_id,
            answer=request.POST.get("answer", ""),
            person_id=whole_of(request, "person_id"),
            reason=request.POST.get("reason", ""),
        )
    except Refusal as refusal:
        messages.warning(request, refusal.message)
    return redirect("desk:board")


@login_required
@require_GET
def map_page(request: HttpRequest) -> HttpResponse:
    """The map: county outlines, warehouses, jobs and crews."""
    access.require_room(request.user, "map")
    context = {"tiles": settings.TILE_ADDRESS, "credit": settings.TILE_CREDIT}
    return render(request, "dispatch/desk/map.html", context)


@login_required
@require_GET
def map_features(request: HttpRequest) -> JsonResponse:
    """GeoJSON (RFC 7946) of what the map shows."""
    access.require_room(request.user, "map")
    return JsonResponse(map_data.features(area=area_of(request), now=timezone.now()))


def _now() -> datetime:
    return timezone.now()
