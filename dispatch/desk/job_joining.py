"""On a job's page: joining two jobs of one loss, and splitting them again."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from dispatch.desk.job_views import page_response
from dispatch.desk.views import area_of
from dispatch.merging import merge_jobs, split_jobs
from jobs import access
from jobs.models import Job
from jobs.people import signed_in
from jobs.refusals import Refusal, Unusable
from jobs.sent import key_of


@login_required
@require_POST
def join(request: HttpRequest, number: str) -> HttpResponse:
    """Join this job and another one; either may be the one that goes on."""
    access.require_room(request.user, "desk")
    job = _job(request, number)
    try:
        typed = request.POST.get("join_with", "").strip().upper()
        other = Job.objects.filter(area=area_of(request), number=typed).first()
        if other is None:
            raise Unusable(f"There is no job {typed or 'without a number'} here. Type it as J-1001.", where="join_with")
        ends, stays = (other, job) if request.POST.get("stays") != "other" else (job, other)
        merged = merge_jobs(
            key=key_of(request),
            actor=signed_in(request.user),
            now=timezone.now(),
            job_id=ends.pk,
            into_job_id=stays.pk,
        )
    except Refusal as refusal:
        return _refused(request, number, refusal, "Not joined")
    messages.success(request, f"{merged.ended_number} is joined to {merged.job_number}. {merged.next_step}")
    return redirect("desk:job", merged.job_number)


@login_required
@require_POST
def split(request: HttpRequest, number: str) -> HttpResponse:
    """Open a joined job again."""
    access.require_room(request.user, "desk")
    job = _job(request, number)
    try:
        apart = split_jobs(key=key_of(request), actor=signed_in(request.user), now=timezone.now(), job_id=job.pk)
    except Refusal as refusal:
        return _refused(request, number, refusal, "Not split")
    messages.success(request, f"{apart.job_number} is open again, apart from {apart.split_from}. {apart.next_step}")
    return redirect("desk:job", number)


def _job(request: HttpRequest, number: str) -> Job:
    job = Job.objects.filter(area=area_of(request), number=number).first()
    if job is None:
        raise Http404(f"There is no job {number}.")
    return job


def _refused(request: HttpRequest, number: str, refusal: Refusal, refused: str) -> HttpResponse:
    return page_response(request, number, refusal=refusal, refused=refused)
