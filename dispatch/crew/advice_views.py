"""The lead's decision on what is suggested at the stop."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_POST

from dispatch.crew import pages
from dispatch.crew.views import at_own_stop
from equipment.advice import decide_on_advice


@login_required
@require_POST
def decide(request: HttpRequest, visit_id: int) -> HttpResponse:
    """Done so, or not with the reason; both are kept beside the suggestion."""

    def act(page: pages.StopPage, common: dict[str, Any]) -> None:
        decide_on_advice(
            key=common["key"],
            actor=common["actor"],
            now=common["now"],
            job_id=page.job_id,
            advice=request.POST.get("advice", ""),
            seen=request.POST.get("seen", "")[:300],
            follow=request.POST.get("decision") == "follow",
            reason=request.POST.get("advice_reason", ""),
        )
        messages.success(request, "Your decision is kept beside the suggestion.")

    return at_own_stop(request, visit_id, act)
