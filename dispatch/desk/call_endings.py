"""How a call ends: a crew is sent, a visit is booked, it belongs to a job that is known, or no crew is needed."""

from typing import Any
from uuid import uuid4

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from dispatch import bookings, emergencies, managers_word, offering
from dispatch.desk import call_forms
from dispatch.desk.call_offers import shown
from dispatch.desk.call_views import page
from equipment.sizing_reports import LossUnusable
from jobs import access, intake, joining, selectors, urgency_words
from jobs.facts import CallFacts
from jobs.opening import NotEnoughYet
from jobs.people import signed_in
from jobs.refusals import Refusal
from jobs.sent import key_of, whole


@login_required
@require_GET
def offers(request: HttpRequest, call_id: int) -> HttpResponse:
    """Every crew, ranked or with the reason why not; a fragment for the script, the page for everybody else."""
    access.require_room(request.user, "desk")
    facts = selectors.call_facts(call_id)
    context = _offers(call_id, stabilize=request.GET.get("stabilize") == "1")
    status = 422 if "refusal" in context else 200
    if request.headers.get("X-Fragment"):
        context |= {"page": {"facts": facts}, "zone": _zone(facts), "key": uuid4()}
        context |= {"overrules": access.may(request.user, "override")}
        return render(request, "dispatch/desk/_call_offers.html", context, status=status)
    return page(request, facts, status=status, zone=_zone(facts), **context)


@login_required
@require_POST
def send(request: HttpRequest, call_id: int) -> HttpResponse:
    """Send the chosen crew."""
    access.require_room(request.user, "desk")
    stabilize = request.POST.get("stabilize") == "1"
    try:
        chosen = request.POST.get("crew_id", "")
        emergencies.send(
            key=key_of(request),
            actor=signed_in(request.user),
            now=timezone.now(),
            call_id=call_id,
            crew_id=whole(chosen) or 0,
            stabilize=stabilize,
        )
    except Refusal as refusal:
        facts = selectors.call_facts(call_id)
        context = {**_offers(call_id, stabilize=stabilize), "refusal": refusal}
        return page(request, facts, status=refusal.status, zone=_zone(facts), **context)
    return redirect("desk:call", call_id)


@login_required
@require_POST
def override(request: HttpRequest, call_id: int) -> HttpResponse:
    """A manager's word that a crew may go in spite of what stands against it."""
    access.require_room(request.user, "desk")
    chosen = request.POST.get("crew_id", "")
    crew_id = whole(chosen) or 0
    try:
        managers_word.override(
            key=key_of(request),
            actor=signed_in(request.user),
            now=timezone.now(),
            call_id=call_id,
            crew_id=crew_id,
            reason=request.POST.get("override_reason", ""),
        )
    except Refusal as refusal:
        facts = selectors.call_facts(call_id)
        context = {**_offers(call_id), "override_refusal": refusal, "typed": request.POST, "typed_crew": crew_id}
        return page(request, facts, status=refusal.status, zone=_zone(facts), **context)
    return redirect(f"{reverse('desk:call_offers', args=[call_id])}#send-{crew_id}")


@login_required
@require_POST
def book(request: HttpRequest, call_id: int) -> HttpResponse:
    """Book a visit instead of sending a crew now."""
    access.require_room(request.user, "desk")
    facts = selectors.call_facts(call_id)
    try:
        day = call_forms.day_of(request, "due_on")
        bookings.book_visit(
            key=key_of(request),
            actor=signed_in(request.user),
            now=timezone.now(),
            call_id=call_id,
            due_on=day,
            window_from=call_forms.time_on(request, "window_from", day, _zone(facts)),
            window_until=call_forms.time_on(request, "window_until", day, _zone(facts)),
            note=request.POST.get("note", ""),
        )
    except Refusal as refusal:
        return page(request, facts, status=refusal.status, book_refusal=refusal, typed=request.POST)
    return redirect("desk:call", call_id)


@login_required
@require_POST
def end(request: HttpRequest, call_id: int) -> HttpResponse:
    """End a call without a crew, with the reason; or give it to the job it belongs to."""
    access.require_room(request.user, "desk")
    job_id = whole(request.POST.get("job_id"))
    who: dict[str, Any] = {"actor": signed_in(request.user), "now": timezone.now(), "call_id": call_id}
    try:
        key = key_of(request)
        if job_id is not None:
            joining.join_caller(key=key, **who, job_id=job_id)
        else:
            intake.end_call(key=key, **who, ended_as="no_crew", reason=request.POST.get("reason", ""))
    except Refusal as refusal:
        facts = selectors.call_facts(call_id)
        return page(request, facts, status=refusal.status, end_refusal=refusal, typed=request.POST)
    return redirect("desk:call", call_id)


@login_required
@require_POST
def split(request: HttpRequest, call_id: int) -> HttpResponse:
    """The call is about another loss after all: it is open again with all its answers."""
    access.require_room(request.user, "desk")
    try:
        joining.split_caller(key=key_of(request), actor=signed_in(request.user), now=timezone.now(), call_id=call_id)
    except Refusal as refusal:
        return page(request, selectors.call_facts(call_id), status=refusal.status, end_refusal=refusal)
    return redirect("desk:call", call_id)


@login_required
@require_POST
def urgency(request: HttpRequest, call_id: int) -> HttpResponse:
    """A manager's word on the urgency, with the reason."""
    access.require_room(request.user, "desk")
    try:
        urgency_words.set_urgency(
            key=key_of(request),
            actor=signed_in(request.user),
            now=timezone.now(),
            call_id=call_id,
            level=request.POST.get("level", ""),
            reason=request.POST.get("urgency_reason", ""),
        )
    except Refusal as refusal:
        facts = selectors.call_facts(call_id)
        return page(request, facts, status=refusal.status, urgency_refusal=refusal, typed=request.POST)
    return redirect("desk:call", call_id)


def _zone(facts: CallFacts) -> str:
    """The place's own time zone; the area's while the place is not known."""
    return facts.place.place.time_zone if facts.place.place else facts.area.time_zone


def _offers(call_id: int, *, stabilize: bool = False) -> dict[str, object]:
    try:
        return {"offers": shown(offering.offers(call_id=call_id, now=timezone.now(), stabilize=stabilize))}
    except (NotEnoughYet, LossUnusable) as refusal:
        return {"refusal": refusal}
