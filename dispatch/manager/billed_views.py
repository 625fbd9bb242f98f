"""The bill beside the log: what the office enters for each closed job, or for many by file."""

from datetime import timedelta
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from dispatch.desk.views import area_of
from equipment import billed_days
from jobs import access
from jobs.models import Area, Job
from jobs.people import signed_in
from jobs.refusals import Refusal, Unusable
from jobs.sent import key_of, whole, whole_of

CLOSED_WITHIN = timedelta(days=90)
MOST_JOBS = 100
PREFIX = "days-"


@login_required
@require_http_methods(["GET", "POST"])
def billed(request: HttpRequest) -> HttpResponse:
    """`/manager/billed`: each job closed of late, its logged days, and what was billed."""
    access.require_room(request.user, "manager")
    area, now = area_of(request), timezone.now()
    timezone.activate(area.zone)
    refusal = None
    if request.method == "POST":
        try:
            done = _enter(request, area)
        except Refusal as error:
            refusal = error
        else:
            differ = f"{done.difference} equipment-days differ" if done.difference else "as logged"
            messages.success(request, f"Entered for {', '.join(done.jobs)}: {differ}.")
            return redirect("manager:billed")
    jobs = Job.objects.filter(area=area, closed_at__gte=now - CLOSED_WITHIN).order_by("-closed_at", "-pk")[:MOST_JOBS]
    context = {
        "area": area.name,
        "bills": billed_days.bills(list(jobs), now=now),
        "refusal": refusal,
        "wrong": refusal.data.get("problems", ()) if refusal else (),
        "typed": request.POST.get("text", ""),
        "typed_job": whole(request.POST.get("job_id")),
        "typed_days": {name.removeprefix(PREFIX): value for name, value in request.POST.items()},
    }
    return render(request, "dispatch/manager/billed.html", context, status=refusal.status if refusal else 200)


def _enter(request: HttpRequest, area: Area) -> billed_days.BilledEntered:
    common: dict[str, Any] = {"key": key_of(request), "actor": signed_in(request.user), "now": timezone.now()}
    if "text" in request.POST:
        return billed_days.import_billed_days(**common, area_id=area.pk, text=request.POST["text"])
    typed = {name.removeprefix(PREFIX): str(text) for name, text in request.POST.items() if name.startswith(PREFIX)}
    for code, text in typed.items():
        if whole(text) is None:
            raise Unusable(f"{text or 'Nothing'} is no number of days for {code}. Write 0 where none was billed.")
    days = tuple((code, whole(text) or 0) for code, text in typed.items())
    return billed_days.enter_billed_days(**common, job_id=whole_of(request, "job_id"), days=days)
