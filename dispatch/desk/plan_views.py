"""Asking for a day's plan, looking at it, publishing it, taking it back."""

from datetime import date, timedelta

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from dispatch import planning
from dispatch.desk.call_forms import key_of
from dispatch.desk.plan_pages import plan_page
from dispatch.desk.views import area_of
from dispatch.models import Plan
from jobs import access
from jobs.people import signed_in
from jobs.refusals import Refusal


@login_required
def plans(request: HttpRequest) -> HttpResponse:
    """The newest plans, and the form that asks for one."""
    access.require_room(request.user, "desk")
    area = area_of(request)
    timezone.activate(area.zone)
    tomorrow = timezone.localdate() + timedelta(days=1)
    typed = request.POST.get("day", tomorrow.isoformat())
    refusal = None
    if request.method == "POST":
        try:
            asked = planning.plan_day(
                key=key_of(request),
                actor=signed_in(request.user),
                now=timezone.now(),
                area_id=area.pk,
                day=date.fromisoformat(typed),
            )
            return redirect("desk:plan", asked.plan_id)
        except ValueError:
            refusal = f"{typed!r} is no day. Write it as {tomorrow.isoformat()}."
        except Refusal as error:
            refusal = error.message
    rows = Plan.objects.filter(area=area).defer("problem", "outcome", "progress").order_by("-pk")[:20]
    shown = tuple((row.pk, row.service_day, row.get_state_display(), row.asked_at) for row in rows)
    context = {"plans": shown, "day": typed, "refusal": refusal}
    return render(request, "dispatch/desk/plans.html", context, status=422 if refusal else 200)


@login_required
@require_GET
def plan(request: HttpRequest, plan_id: int) -> HttpResponse:
    """One plan; while it is being worked out the page asks again by itself."""
    access.require_room(request.user, "desk")
    page = plan_page(area_id=area_of(request).pk, plan_id=plan_id)
    if page is None:
        raise Http404(f"There is no plan {plan_id}.")
    timezone.activate(page.zone)
    template = "dispatch/desk/_plan.html" if request.headers.get("HX-Request") else "dispatch/desk/plan.html"
    return render(request, template, {"page": page})


@login_required
@require_POST
def decide(request: HttpRequest, plan_id: int) -> HttpResponse:
    """Publish the plan, or take it back."""
    access.require_room(request.user, "desk")
    action = planning.withdraw_plan if request.POST.get("do") == "withdraw" else planning.publish_plan
    try:
        done = action(
            key=key_of(request),
            actor=signed_in(request.user),
            now=timezone.now(),
            plan_id=plan_id,
        )
        messages.success(request, f"Done. Promised arrivals that moved: {len(done.moved)}.")
    except Refusal as refusal:
        messages.warning(request, refusal.message)
    return redirect("desk:plan", plan_id)
