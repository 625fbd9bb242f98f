"""Counting, hour meters and the power plan at the stop."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, QueryDict
from django.views.decorators.http import require_POST

from dispatch.crew import forms, pages
from dispatch.crew.views import at_own_stop
from equipment.on_site.counts import count_at_job
from equipment.on_site.meters import MeterValue, read_meters
from equipment.on_site.power import keep_power_plan, typed_circuits
from jobs.refusals import Unusable


@login_required
@require_POST
def count(request: HttpRequest, visit_id: int) -> HttpResponse:
    """How many units are seen, or which one is not."""

    def act(page: pages.StopPage, common: dict[str, Any]) -> None:
        missing = tuple(request.POST.getlist("missing"))
        typed = request.POST.get("seen", "").strip() or request.POST.get("seen_other", "").strip()
        seen = None if missing else forms.whole(typed, "seen_other", "Say how many units you see, in digits.")
        done = count_at_job(job_id=page.job_id, visit_id=visit_id, seen=seen, missing=missing, **common)
        if done.alarm_id is None:
            messages.success(request, f"All {done.listed} units are seen.")
        else:
            messages.success(
                request, f"Noted: {done.seen} of {done.listed} seen. The desk knows; go on with your work."
            )

    return at_own_stop(request, visit_id, act)


@login_required
@require_POST
def meters(request: HttpRequest, visit_id: int) -> HttpResponse:
    """What the hour meters show."""

    def act(page: pages.StopPage, common: dict[str, Any]) -> None:
        confirmed = request.POST.get("meters_confirmed") == "yes"
        values = _meter_values(request.POST)
        done = read_meters(job_id=page.job_id, visit_id=visit_id, meters=values, confirmed=confirmed, **common)
        for line in done.lines:
            messages.success(request, f"Unit {line.number} {line.words}.")

    return at_own_stop(request, visit_id, act)


@login_required
@require_POST
def power(request: HttpRequest, visit_id: int) -> HttpResponse:
    """Which unit stands on which circuit."""

    def act(page: pages.StopPage, common: dict[str, Any]) -> None:
        kept = keep_power_plan(
            job_id=page.job_id,
            visit_id=visit_id,
            circuits=typed_circuits(request.POST.get("circuits", "")),
            places=_places(request.POST),
            **common,
        )
        messages.success(request, "Power plan kept.")
        for warning in kept.warnings:
            messages.warning(request, warning)

    return at_own_stop(request, visit_id, act)


def _meter_values(typed: QueryDict) -> tuple[MeterValue, ...]:
    found = []
    for name in typed:
        if name.startswith("m_") and (text := typed.get(name, "").strip()):
            number = name.removeprefix("m_")
            found.append(MeterValue(number, forms.number(text, name), typed.get(f"mr_{number}", "")))
    return tuple(found)


def _places(typed: QueryDict) -> tuple[tuple[str, int], ...]:
    found = []
    for name in typed:
        if name.startswith("w_") and (text := typed.get(name, "").strip()):
            found.append((name.removeprefix("w_"), forms.whole(text, name, "Type the circuit's number, such as 2.")))
    if any(index < 1 for _, index in found):
        raise Unusable("Circuits are numbered from 1.", where="circuits")
    return tuple(found)
