"""The phone's own position on the day page: told once when the lead allows it, and erased when they no longer do."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from dispatch.crew import position_forms
from dispatch.crew.views import lead_of
from dispatch.positions import forget_position
from jobs.sent import key_of


@login_required
@require_POST
def tell(request: HttpRequest) -> HttpResponse:
    """The position alone, sent when the lead allows it."""
    user = lead_of(request)
    key_of(request)
    position_forms.tell_with(request, actor=user, now=timezone.now())
    return redirect("crew:day")


@login_required
@require_POST
def forget(request: HttpRequest) -> HttpResponse:
    """The lead no longer allows it: what was told is erased."""
    user = lead_of(request)
    forget_position(key=key_of(request), actor=user, now=timezone.now())
    messages.success(request, "Your phone's position is no longer sent, and what was kept of it is erased.")
    return redirect("crew:day")
