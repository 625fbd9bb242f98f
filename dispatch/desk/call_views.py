"""Taking a call on one page: read what was typed, save it, answer with what follows from it."""

import logging
from typing import Any
from uuid import uuid4

from django.conf import settings
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.utils import timezone
from django.views.decorators.http import require_http_methods
from geopy.exc import GeopyError

from dispatch.desk import call_forms
from dispatch.desk.call_pages import Refused, answers_of, call_page, cells_of, side, text_of
from dispatch.desk.say_back import say_back
from jobs import access, intake, places, selectors
from jobs.calls import rooms
from jobs.calls.urgency import LEVELS
from jobs.facts import CallFacts
from jobs.models import Call
from jobs.people import signed_in
from jobs.refusals import ChangedMeanwhile, Refusal
from jobs.sent import key_of, whole

log = logging.getLogger(__name__)


@login_required
@require_http_methods(["GET", "POST"])
def new_call(request: HttpRequest) -> HttpResponse:
    """A number is enough to start, and even that can wait."""
    access.require_room(request.user, "desk")
    mine = selectors.area_ids_of(signed_in(request.user))
    areas = [area for area in selectors.areas() if mine is None or area.area_id in mine]
    context: dict[str, Any] = {"areas": areas, "key": uuid4(), "number": ""}
    if request.method == "POST":
        try:
            chosen = request.POST.get("area_id") or str(areas[0].area_id if areas else 0)
            taken = intake.take_call(
                key=key_of(request),
                actor=signed_in(request.user),
                now=timezone.now(),
                area_id=whole(chosen) or 0,
                callback_number=request.POST.get("callback_number", ""),
            )
            return redirect("desk:call", taken.call_id)
        except Refusal as refusal:
            context |= {"refusal": refusal, "number": request.POST.get("callback_number", "")}
    return render(request, "dispatch/desk/call_new.html", context, status=422 if "refusal" in context else 200)


@login_required
@require_http_methods(["GET", "POST"])
def call(request: HttpRequest, call_id: int) -> HttpResponse:
    """The page of a call. Without the script the whole form is saved at once, each field for itself."""
    access.require_room(request.user, "desk")
    facts = selectors.call_facts(call_id)
    refused: dict[str, Refused] = {}
    if request.method == "POST":
        for typed in call_forms.whole_form(request, facts):
            try:
                _save(request, call_id, typed)
            except Refusal as refusal:
                refused[typed.field] = _refused(typed, refusal)
        if not refused:
            return redirect("desk:call", call_id)
        facts = selectors.call_facts(call_id)
    return page(request, facts, refused=refused, status=422 if refused else 200)


@login_required
@require_http_methods(["GET", "POST"])
def answers(request: HttpRequest, call_id: int) -> JsonResponse:
    """One field saved as it is typed; or, asked without one, everything as it stands."""
    access.require_room(request.user, "desk")
    if request.method == "GET":
        facts = selectors.call_facts(call_id)
        return JsonResponse({"answers": answers_of(facts), "over": facts.ended_at is not None, **_beside(facts)})
    try:
        typed = call_forms.one_field(request)
        saved = _save(request, call_id, typed)
    except Refusal as refusal:
        data = {name: text_of(value) for name, value in refusal.as_data().items() if name in ("theirs", "yours")}
        return JsonResponse(
            {**refusal.as_data(), **data, "code": refusal.code, "message": refusal.message}, status=refusal.status
        )
    facts = selectors.call_facts(call_id)
    about = {saved.field: {"text": text_of(facts.answers.get(saved.field)), "version": saved.version}}
    if rooms.is_room_field(saved.field):
        about = cells_of(facts, rooms.parts_of(saved.field)[0])
    return JsonResponse({"field": saved.field, "answers": about, **_beside(facts)})


@login_required
@require_http_methods(["GET"])
def address(request: HttpRequest, call_id: int) -> JsonResponse:
    """The places that the configured geocoder finds for the call's street; asked outside every transaction."""
    access.require_room(request.user, "desk")
    said = selectors.call_facts(call_id).answers
    try:
        found = places.geocode(
            street=said.get("street", ""),
            town=said.get("town", ""),
            state=said.get("state", ""),
            zip_code=said.get("zip_code", ""),
        )
    except GeopyError:
        log.warning("the geocoder did not answer", exc_info=True)
        message = "The address service did not answer. The ZIP or coordinates will do."
        return JsonResponse({"found": [], "message": message}, status=502)
    message = "Which one is it?" if found else "Nothing was found. The ZIP or coordinates will do."
    shown = [{"words": place.source, "point": f"{place.lat:.6f}, {place.lon:.6f}"} for place in found]
    return JsonResponse({"found": shown, "message": message})


def page(request: HttpRequest, facts: CallFacts, *, status: int = 200, **more: Any) -> HttpResponse:
    """The call page, with whatever was refused on it."""
    now = timezone.now()
    shown = call_page(facts, now=now, refused=more.pop("refused", None))
    context = {
        "page": shown,
        "payers": selectors.payers(),
        "key": uuid4(),
        "tiles": settings.TILE_ADDRESS,
        "credit": settings.TILE_CREDIT,
        "geocoder": bool(settings.GEOCODER),
        "overrules": access.may(request.user, "override"),
        "levels": tuple(LEVELS) if access.may(request.user, "set_urgency") else (),
        **more,
    }
    if facts.ended_at is not None:
        context |= {"say": say_back(facts), "ended_words": Call.EndedAs(facts.ended_as).label}
    return render(request, "dispatch/desk/call.html", context, status=status)


def _save(request: HttpRequest, call_id: int, typed: call_forms.Typed) -> intake.FieldSaved:
    return intake.answer_call(
        key=typed.key,
        actor=signed_in(request.user),
        now=timezone.now(),
        call_id=call_id,
        field=typed.field,
        value=typed.value,
        seen=typed.seen,
    )


def _refused(typed: call_forms.Typed, refusal: Refusal) -> Refused:
    theirs = text_of(refusal.data.get("theirs")) if isinstance(refusal, ChangedMeanwhile) else None
    return Refused(str(typed.value), refusal.message, theirs)


def _beside(facts: CallFacts) -> dict[str, str]:
    """What stands beside the questions, drawn anew."""
    beside = {"side": side(facts, now=timezone.now()), "facts": facts}
    return {
        "place": render_to_string("dispatch/desk/_call_place.html", beside),
        "side": render_to_string("dispatch/desk/_call_side.html", beside),
    }
