"""What became of the messages, and choosing how somebody is reached."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from dispatch.desk.notice_pages import notices as notices_of
from dispatch.desk.views import area_of
from dispatch.reaching import set_how_to_reach
from jobs import access
from jobs.people import signed_in
from jobs.refusals import Refusal
from jobs.sent import key_of


@login_required
@require_GET
def notices(request: HttpRequest) -> HttpResponse:
    """`/desk/notices`."""
    return _page(request)


@login_required
@require_POST
def reach(request: HttpRequest, person_id: int) -> HttpResponse:
    """How messages go to one of us."""
    access.require_room(request.user, "desk")
    try:
        set_how_to_reach(
            key=key_of(request),
            actor=signed_in(request.user),
            now=timezone.now(),
            person_id=person_id,
            reach_by=request.POST.get("reach_by", ""),
            email=request.POST.get("email", ""),
        )
    except Refusal as refusal:
        return _page(request, refusal=refusal, person_id=person_id)
    messages.success(request, "Kept. The next message goes that way.")
    return redirect("desk:notices")


def _page(request: HttpRequest, *, refusal: Refusal | None = None, person_id: int = 0) -> HttpResponse:
    access.require_room(request.user, "desk")
    area = area_of(request)
    timezone.activate(area.zone)
    page = notices_of(area=area, now=timezone.now())
    context = {"page": page, "refusal": refusal, "typed": request.POST, "typed_for": person_id}
    return render(request, "dispatch/desk/notices.html", context, status=200 if refusal is None else refusal.status)
