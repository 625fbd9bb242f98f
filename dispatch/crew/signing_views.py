"""Signing at the stop: who may sign what, and keeping the signature."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_POST

from dispatch.crew import pages
from dispatch.crew.views import at_own_stop
from jobs.signing.sign import keep_signature


@login_required
@require_POST
def sign(request: HttpRequest, visit_id: int) -> HttpResponse:
    """Keep a signature that was drawn or typed at the stop."""

    def act(page: pages.StopPage, common: dict[str, Any]) -> None:
        typed = request.POST
        kept = keep_signature(
            job_id=page.job_id,
            visit_id=visit_id,
            what=typed.get("sign_what", ""),
            role=typed.get("sign_role", ""),
            name=typed.get("sign_name", ""),
            drawing=typed.get("drawing", ""),
            limits=typed.get("sign_limits", ""),
            **common,
        )
        messages.success(request, f"Signature kept. {kept.caution}".strip())

    return at_own_stop(request, visit_id, act)
