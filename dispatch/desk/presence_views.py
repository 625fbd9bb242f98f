"""The line that says who else has this call or job open: asked for by the page itself, every few seconds."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_POST

from dispatch import presence
from dispatch.desk.views import area_of
from jobs import access
from jobs.people import signed_in


@login_required
@require_POST
def here(request: HttpRequest, kind: str, subject_id: int) -> HttpResponse:
    """`/desk/here/call/ID`, `/desk/here/job/ID`: nothing new is answered with nothing, so that nothing is read out."""
    access.require_room(request.user, "desk")
    found = presence.here(user=signed_in(request.user), kind=kind, subject_id=subject_id, now=timezone.now())
    if request.POST.get("shown") == found.mark:
        return HttpResponse(status=204)
    timezone.activate(area_of(request).zone)
    context = {"here": found, "kind": kind, "subject_id": subject_id}
    return render(request, "dispatch/desk/_here.html", context)
