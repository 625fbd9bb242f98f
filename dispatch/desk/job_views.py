"""A job's page, and closing it."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from dispatch.desk.job_pages import job_page
from dispatch.desk.views import area_of
from equipment import closing
from jobs import access
from jobs.people import signed_in
from jobs.refusals import Refusal
from jobs.sent import key_of


@login_required
@require_GET
def job(request: HttpRequest, number: str) -> HttpResponse:
    """`/desk/jobs/NUMBER`."""
    return page_response(request, number)


@login_required
@require_POST
def close(request: HttpRequest, number: str) -> HttpResponse:
    """Close the job, unless a unit is still there."""
    access.require_room(request.user, "desk")
    page = job_page(area_id=area_of(request).pk, number=number, now=timezone.now())
    if page is None:
        raise Http404
    try:
        closing.close_job(key=key_of(request), actor=signed_in(request.user), now=timezone.now(), job_id=page.job_id)
    except Refusal as refusal:
        return page_response(request, number, refusal=refusal, refused="Not closed")
    messages.success(request, f"{number} is closed.")
    return redirect("desk:job", number)


def page_response(
    request: HttpRequest, number: str, *, refusal: Refusal | None = None, refused: str = "", typed_for: int = 0
) -> HttpResponse:
    """The page of a job, with what was `refused` last and what was typed then."""
    access.require_room(request.user, "desk")
    page = job_page(area_id=area_of(request).pk, number=number, now=timezone.now())
    if page is None:
        raise Http404(f"There is no job {number}.")
    timezone.activate(page.zone)
    context = {"page": page, "refusal": refusal, "refused": refused, "typed": request.POST, "typed_for": typed_for}
    return render(request, "dispatch/desk/job.html", context, status=200 if refusal is None else refusal.status)
