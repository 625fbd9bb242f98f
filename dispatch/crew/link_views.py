"""The page behind the link in a message: what is asked, and two buttons. Nobody signs in; looking changes nothing."""

from typing import Any
from uuid import uuid5

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from dispatch import answer_links
from dispatch.call_out_timers import NAMESPACE
from dispatch.models import CallOutStep
from jobs.people import system_user
from jobs.refusals import Refusal


# Nobody is signed in, so there is no session that a foreign page could borrow; who knows the token may answer.
@csrf_exempt
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def answer_link(request: HttpRequest, token: str) -> HttpResponse:
    """`/go/TOKEN`: GET shows what is asked, POST answers."""
    now = timezone.now()
    refusal: Refusal | None = None
    answered = ""
    try:
        asked = answer_links.asked_by_link(token=token, now=now)
        if request.method == "POST":
            answered = request.POST.get("answer", "")
            answer_links.answer_by_link(
                # One answer for one link: the same button pressed twice is the same write.
                key=uuid5(NAMESPACE, f"link {token} {answered} {request.POST.get('reason', '')}"),
                actor=system_user(),
                now=now,
                call_out_id=asked.call_out_id,
                number=asked.number,
                answer=answered,
                reason=request.POST.get("reason", ""),
            )
    except answer_links.LinkUnknown as unknown:
        return _page(request, {"refusal": unknown}, status=unknown.status)
    except Refusal as refused:
        refusal, answered = refused, ""
        asked = answer_links.asked_by_link(token=token, now=now)
    timezone.activate(asked.zone)
    leaving = answered == CallOutStep.Answer.LEAVING
    context: dict[str, Any] = {"asked": asked, "refusal": refusal, "answered": answered, "leaving": leaving}
    return _page(request, context, status=200 if refusal is None else refusal.status)


def _page(request: HttpRequest, context: dict[str, Any], *, status: int) -> HttpResponse:
    page = render(request, "dispatch/crew/answer_link.html", context, status=status)
    # The address is the secret: it goes to nobody, and no search machine keeps it.
    page["Referrer-Policy"] = "no-referrer"
    page["X-Robots-Tag"] = "noindex"
    return page
