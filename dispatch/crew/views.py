"""The crew lead's phone: read what was typed, call one use case, answer."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from dispatch import callouts
from dispatch.crew import forms, late, loading, pages, position_forms, recording
from dispatch.crew import readings as before
from dispatch.crew.air_slots import air_slots, dryers_at
from dispatch.crew.on_site import on_site
from dispatch.crew.signing import signing_at
from dispatch.crew.to_do import last_time, to_do
from dispatch.positions import kept_words
from equipment import custody
from equipment.advice import advice_of
from jobs import access, stops
from jobs.models import Room
from jobs.photos.keep import photos_of
from jobs.refusals import Refusal
from jobs.sent import key_of


@login_required
@require_GET
def day(request: HttpRequest) -> HttpResponse:
    """`/crew`: today's route of the signed-in lead, and what they are asked."""
    user = lead_of(request)
    now = timezone.now()
    shown = pages.day_page(user=user, now=now)
    if shown is not None:
        timezone.activate(shown.zone)
    return render(
        request, "dispatch/crew/day.html", {"day": shown, "asks": pages.asks(user=user), "kept_words": kept_words()}
    )


@login_required
@require_POST
def answer(request: HttpRequest, call_out_id: int) -> HttpResponse:
    """Yes or no to a call-out."""
    user = lead_of(request)
    try:
        callouts.answer_call_out(
            key=key_of(request),
            actor=user,
            now=timezone.now(),
            call_out_id=call_out_id,
            answer=request.POST.get("answer", ""),
            reason=request.POST.get("reason", ""),
        )
    except Refusal as refusal:
        messages.warning(request, refusal.message)
    return redirect("crew:day")


@login_required
@require_GET
def stop(request: HttpRequest, visit_id: int) -> HttpResponse:
    """`/crew/stops/ID`: one stop of the lead's own route."""
    return stop_response(request, visit_id)


@login_required
@require_POST
def leave(request: HttpRequest, visit_id: int) -> HttpResponse:
    """The crew leaves for the stop."""
    return at_own_stop(request, visit_id, lambda page, common: stops.leave_for_stop(visit_id=visit_id, **common))


@login_required
@require_POST
def loaded(request: HttpRequest, visit_id: int) -> HttpResponse:
    """What was to be fetched is aboard."""
    return at_own_stop(request, visit_id, lambda page, common: loading.mark_loaded(visit_id=visit_id, **common))


@login_required
@require_POST
def run_late(request: HttpRequest, visit_id: int) -> HttpResponse:
    """The crew will reach the stop so many minutes late; who is told is said."""

    def act(page: pages.StopPage, common: dict[str, Any]) -> None:
        minutes = forms.minutes(request.POST.get("minutes", ""))
        done = late.run_late(visit_id=visit_id, minutes=minutes, **common)
        if not done.moved:
            messages.success(request, "Noted. The waiting time on your route takes it up, so no arrival moves.")
        for row in done.moved:
            messages.success(request, _said_later(row))

    return at_own_stop(request, visit_id, act)


def _said_later(row: late.LaterStop) -> str:
    told = "the customer gets a message" if row.notice_id else "no number is known: call the desk"
    past = " This is past the promised window." if row.past_window else ""
    starts_at, was = (f"{at.astimezone(row.zone):%-I:%M %p}" for at in (row.starts_at, row.was))
    return f"{row.job_number}: arrival now {starts_at}, was {was}; {told}.{past}"


@login_required
@require_POST
def arrive(request: HttpRequest, visit_id: int) -> HttpResponse:
    """The crew is at the door."""
    return at_own_stop(request, visit_id, lambda page, common: stops.arrive_at_stop(visit_id=visit_id, **common))


@login_required
@require_POST
def finish(request: HttpRequest, visit_id: int) -> HttpResponse:
    """The work of this stop is done."""
    return at_own_stop(request, visit_id, lambda page, common: stops.finish_stop(visit_id=visit_id, **common))


@login_required
@require_POST
def cannot_work(request: HttpRequest, visit_id: int) -> HttpResponse:
    """The crew could not work, with the reason."""
    reason, told = request.POST.get("reason", ""), request.POST.get("told", "")

    def act(page: pages.StopPage, common: dict[str, Any]) -> None:
        at = forms.local_time(request.POST.get("new_time", ""), page.zone)
        stops.cannot_work(visit_id=visit_id, reason=reason, told=told, new_time=at, **common)

    return at_own_stop(request, visit_id, act)


@login_required
@require_POST
def place(request: HttpRequest, visit_id: int) -> HttpResponse:
    """Units placed in a room, or taken up onto the vehicle."""
    user = lead_of(request)

    def act(page: pages.StopPage, common: dict[str, Any]) -> None:
        crew = pages.crew_now(user=user, now=common["now"])
        vehicle_id = None if crew is None else crew.vehicle_id
        numbers = forms.numbers(request.POST.get("numbers", ""))
        if request.POST.get("do") == "take_up" and vehicle_id is not None:
            done = custody.take_up_units(job_id=page.job_id, vehicle_id=vehicle_id, numbers=numbers, **common)
        else:
            done = custody.place_units(
                job_id=page.job_id,
                room_name=request.POST.get("room_name", "").strip(),
                numbers=numbers,
                vehicle_id=vehicle_id,
                **common,
            )
        for scan in done.scans:
            messages.success(request, f"{scan.number} {scan.model}: {scan.said}. {scan.caution}".strip())

    return at_own_stop(request, visit_id, act)


@login_required
@require_POST
def readings(request: HttpRequest, visit_id: int) -> HttpResponse:
    """Readings, and perhaps one new point with its first value."""

    def act(page: pages.StopPage, common: dict[str, Any]) -> None:
        points = before.readings_today(job_id=page.job_id, now=common["now"], zone=page.zone).points
        taken_at = common["happened_at"]
        kept = recording.record(
            job_id=page.job_id,
            visit_id=visit_id,
            air=forms.air_values(request.POST),
            materials=forms.material_values(request.POST, points),
            taken_at=taken_at,
            point=forms.new_point(request.POST),
            confirmed=request.POST.get("confirmed") == "yes",
            **_without_time(common),
        )
        if kept.at_goal:
            messages.success(request, "Every point is at its goal. The next visit is the pick-up.")
        else:
            messages.success(request, "Readings saved.")

    return at_own_stop(request, visit_id, act)


def at_own_stop(
    request: HttpRequest, visit_id: int, act: Callable[[pages.StopPage, dict[str, Any]], object]
) -> HttpResponse:
    """Do one thing at one's own stop; a refusal comes back on the page with what was typed."""
    user = lead_of(request)
    now = timezone.now()
    page = pages.stop_page(user=user, visit_id=visit_id, now=now)
    if page is None:
        raise Http404("This stop is not on your route.")
    try:
        act(page, {"key": key_of(request), "actor": user, "now": now, "happened_at": forms.happened_at(request.POST)})
    except Refusal as refusal:
        return stop_response(request, visit_id, refusal=refusal)
    position_forms.tell_with(request, actor=user, now=now)
    return redirect("crew:stop", visit_id)


def _without_time(common: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in common.items() if name != "happened_at"}


def stop_response(request: HttpRequest, visit_id: int, *, refusal: Refusal | None = None) -> HttpResponse:
    """The page of one's own stop, with what was refused and what was typed."""
    user = lead_of(request)
    crew = pages.crew_now(user=user, now=timezone.now())
    page = pages.stop_page(user=user, visit_id=visit_id, now=timezone.now())
    if page is None or crew is None:
        raise Http404("This stop is not on your route.")
    timezone.activate(crew.area.zone)
    read = before.readings_today(job_id=page.job_id, now=timezone.now(), zone=page.zone)
    typed = request.POST
    signing, site = signing_at(page, now=timezone.now()), on_site(page, typed, crew=crew)
    advice = advice_of(page.job_id, log=read.log, now=timezone.now())
    rooms = list(Room.objects.filter(chamber__job_id=page.job_id).values_list("name", "chamber__name"))
    context = {
        "stop": page,
        "refusal": refusal,
        "refused": _field(refusal, read, typed),
        "questioned": refusal is not None and refusal.code == "readings_doubtful",
        "doubts": [] if refusal is None else refusal.data.get("doubts", []),
        "typed": typed,
        "air": air_slots(read.air, typed, rooms=dict(rooms), dryers=dryers_at(page.job_id)),
        "points": [(point, typed.get(f"p_{point.point_id}", "")) for point in read.points],
        "dry": read.dry,
        "charts": read.charts,
        "advice": advice,
        "to_do": to_do(page, read=read, site=site, signing=signing, advice=advice),
        "last_time": last_time(page),
        "photos": photos_of(page.job_id),
        "signing": signing,
        "site": site,
        "hours_asked": refusal is not None and refusal.code == "hours_asked",
        "materials": forms.MATERIALS,
        "scales": forms.SCALES,
        "room_names": [name for name, _ in rooms],
    }
    return render(request, "dispatch/crew/stop.html", context, status=200 if refusal is None else refusal.status)


def _field(refusal: Refusal | None, read: before.ReadingsToday, typed: QueryDict) -> str:
    """The field beside which the refusal stands."""
    if refusal is None:
        return ""
    return forms.field_of(refusal, forms.air_slots_in(typed), read.points)


def lead_of(request: HttpRequest) -> User:
    """
    The signed-in lead.

    :raises NotAllowed: if the room is not open to whoever is signed in.
    """
    access.require_room(request.user, "crew")
    assert isinstance(request.user, User)
    return request.user
