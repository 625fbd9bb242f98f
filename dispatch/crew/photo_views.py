"""Photos on the crew lead's phone: sending one, and seeing those of the jobs on one's own route."""

from typing import BinaryIO, cast

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from dispatch.crew import forms, pages, position_forms
from dispatch.crew.views import lead_of, stop_response
from jobs.photos import keep
from jobs.photos.answer import photo_answer
from jobs.photos.pictures import NoPicture, made_small
from jobs.refusals import Refusal
from jobs.sent import key_of


@login_required
@require_POST
def add(request: HttpRequest, visit_id: int) -> HttpResponse:
    """Keep one photo of the stop's job."""
    user, now = lead_of(request), timezone.now()
    page = pages.stop_page(user=user, visit_id=visit_id, now=now)
    if page is None:
        raise Http404("This stop is not on your route.")
    try:
        sent = request.FILES.get("photo")
        if sent is None:
            raise NoPicture("Take or choose a photo first.", where="photo")
        picture = made_small(cast(BinaryIO, sent), size=sent.size or 0)
        keep.store(picture)
        keep.keep_photo(
            key=key_of(request),
            actor=user,
            now=now,
            job_id=page.job_id,
            visit_id=visit_id,
            digest=picture.digest,
            width=picture.width,
            height=picture.height,
            room_name=request.POST.get("photo_room", ""),
            note=request.POST.get("photo_note", ""),
            taken_at=forms.happened_at(request.POST),
        )
    except Refusal as refusal:
        return stop_response(request, visit_id, refusal=refusal)
    messages.success(request, "Photo kept.")
    position_forms.tell_with(request, actor=user, now=now)
    return redirect("crew:stop", visit_id)


@login_required
@require_GET
def show(request: HttpRequest, photo_id: int) -> FileResponse:
    """One photo of a job on the lead's own route; of another job not even that it exists."""
    user = lead_of(request)
    found = keep.photo(photo_id)
    if found is None or not pages.on_route(user=user, job_id=found.job_id, now=timezone.now()):
        raise Http404("There is no such photo on your route.")
    return photo_answer(found)
