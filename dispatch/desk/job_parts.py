"""On a job's page: sizing it again, the lead's own figure beside the suggestion, and what can be printed."""

from collections.abc import Callable
from datetime import datetime
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from dispatch.desk.job_pages import JobPage, job_page
from dispatch.desk.job_views import page_response
from dispatch.desk.views import area_of
from dispatch.reaching import set_how_to_reach
from equipment.drying_record import drying_record
from equipment.record_paper import record_pdf
from equipment.sizing_paper import file_answer, paper_of
from equipment.sizing_reports import size_job
from jobs import access
from jobs.leads_word import set_leads_word
from jobs.models import Job
from jobs.people import signed_in
from jobs.photos import keep
from jobs.photos.answer import photo_answer
from jobs.refusals import Refusal, Unusable
from jobs.sent import key_of, whole
from jobs.visits import miss_visit

MOST_UNITS = 999


@login_required
@require_POST
def size_again(request: HttpRequest, number: str) -> HttpResponse:
    """Size the job by its rooms, category and classes as they are now."""

    def write(page: JobPage) -> str:
        key = key_of(request)
        size_job(key=key, actor=signed_in(request.user), now=timezone.now(), job_id=page.job_id)
        return "Sized by the rooms as they are now. Earlier suggestions stay on record."

    return _written(request, number, write, refused="Not sized")


@login_required
@require_POST
def say(request: HttpRequest, number: str) -> HttpResponse:
    """Keep the lead's own figure with its reason; the suggestion stays beside it."""

    def write(page: JobPage) -> str:
        topic = next((each for each in page.topics if each.key == request.POST.get("topic")), None)
        if topic is None:
            raise Unusable("Choose what the figure is about.", where="topic")
        word = whole(request.POST.get("word"))
        if word is None or word > MOST_UNITS:
            raise Unusable(f"A whole number from 0 to {MOST_UNITS} is wanted.", where="word")
        set_leads_word(
            key=key_of(request),
            actor=signed_in(request.user),
            now=timezone.now(),
            job_id=page.job_id,
            topic=topic.key,
            word=word,
            reason=request.POST.get("reason", ""),
            suggestion=topic.suggested,
        )
        return f"Kept: {topic.name}, {word}."

    return _written(request, number, write, refused="Not kept")


@login_required
@require_POST
def reach(request: HttpRequest, number: str, contact_id: int) -> HttpResponse:
    """How messages go to somebody of the job."""

    def write(page: JobPage) -> str:
        if contact_id not in {who.contact_id for who in page.contacts}:
            raise Unusable(f"{number} has no such person any more.", where="contact_id")
        set_how_to_reach(
            key=key_of(request),
            actor=signed_in(request.user),
            now=timezone.now(),
            contact_id=contact_id,
            reach_by=request.POST.get("reach_by", ""),
            email=request.POST.get("email", ""),
        )
        return "Kept. The next message goes that way."

    return _written(request, number, write, refused="Not kept", typed_for=contact_id)


@login_required
@require_POST
def miss(request: HttpRequest, number: str) -> HttpResponse:
    """Record that a visit will not happen: why, who was told, and when instead."""

    def write(page: JobPage) -> str:
        visit_id = request.POST.get("visit", "")
        if visit_id not in {str(due) for due, _ in page.due}:
            raise Unusable("Choose the visit that will not happen.", where="visit")
        missed = miss_visit(
            key=key_of(request),
            actor=signed_in(request.user),
            now=timezone.now(),
            visit_id=int(visit_id),
            reason=request.POST.get("miss_reason", ""),
            told=request.POST.get("miss_told", ""),
            new_time=_new_time(request.POST.get("miss_new_time", ""), page.zone),
        )
        return f"Kept. The visit is due on {missed.due_on:%b} {missed.due_on.day} instead."

    return _written(request, number, write, refused="Not kept")


def _new_time(typed: str, zone: ZoneInfo) -> datetime:
    try:
        return datetime.fromisoformat(typed.strip()).replace(tzinfo=zone)
    except ValueError as error:
        raise Unusable("Choose the day and time of the visit that takes its place.", where="new_time") from error


@login_required
@require_GET
def sheet(request: HttpRequest, number: str) -> HttpResponse:
    """`/desk/jobs/NUMBER/sizing.pdf`."""
    access.require_room(request.user, "desk")
    page = job_page(area_id=area_of(request).pk, number=number, now=timezone.now())
    if page is None or page.sizing is None:
        raise Http404(f"There is no sizing of {number}.")
    return file_answer(paper_of(page.job_id))


@login_required
@require_GET
def record(request: HttpRequest, number: str) -> HttpResponse:
    """`/desk/jobs/NUMBER/drying-record.pdf`."""
    access.require_room(request.user, "desk")
    job_id = Job.objects.filter(area=area_of(request), number=number).values_list("pk", flat=True).first()
    if job_id is None:
        raise Http404(f"There is no job {number}.")
    return file_answer(record_pdf(drying_record(job_id, now=timezone.now())))


@login_required
@require_GET
def photo(request: HttpRequest, number: str, photo_id: int) -> FileResponse:
    """`/desk/jobs/NUMBER/photos/ID`."""
    access.require_room(request.user, "desk")
    found = keep.photo(photo_id)
    if found is None or not Job.objects.filter(pk=found.job_id, area=area_of(request), number=number).exists():
        raise Http404(f"There is no such photo of {number}.")
    return photo_answer(found)


def _written(
    request: HttpRequest, number: str, write: Callable[[JobPage], str], *, refused: str, typed_for: int = 0
) -> HttpResponse:
    access.require_room(request.user, "desk")
    page = job_page(area_id=area_of(request).pk, number=number, now=timezone.now())
    if page is None:
        raise Http404(f"There is no job {number}.")
    try:
        said = write(page)
    except Refusal as refusal:
        return page_response(request, number, refusal=refusal, refused=refused, typed_for=typed_for)
    messages.success(request, said)
    return redirect("desk:job", number)
