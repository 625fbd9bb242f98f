"""Asking for a day's plan, looking at it, publishing it, taking it back."""

from datetime import date, time, timedelta

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from dispatch import planning, what_if
from dispatch.desk.plan_pages import plan_page
from dispatch.desk.views import area_of
from dispatch.models import Plan
from jobs import access
from jobs.people import signed_in
from jobs.refusals import Refusal
from jobs.sent import key_of


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
    if request.headers.get("HX-Target") == "answers":
        return render(request, "dispatch/desk/_plan_answers.html", {"page": page, "found": page.what_ifs})
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


@login_required
@require_POST
def ask_what_if(request: HttpRequest, plan_id: int) -> HttpResponse:
    """Ask what one more crew, or one wider window, would bring; the plan's page shows the answer."""
    access.require_room(request.user, "desk")
    sent = request.POST
    try:
        question = what_if.Question(
            what="window" if sent.get("what") == "window" else "crew",
            subject=sent.get("subject", ""),
            until=time.fromisoformat(sent["until"]) if sent.get("until") else None,
            wider_min=int(sent.get("wider_min") or 60),
        )
        what_if.ask_what_if(
            key=key_of(request), actor=signed_in(request.user), now=timezone.now(), plan_id=plan_id, question=question
        )
    except ValueError:
        messages.warning(request, "Give the hour like 20:00 and the minutes as a whole number, then ask again.")
    except Refusal as refusal:
        messages.warning(request, refusal.message)
    return redirect(f"{reverse('desk:plan', args=[plan_id])}#what-if")
