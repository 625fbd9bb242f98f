"""One promise: what was done about it, or which other time was agreed, and with whom."""

from datetime import datetime
from uuid import uuid4
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from dispatch import other_day
from dispatch.desk import call_forms
from dispatch.desk.views import area_of
from jobs import access, clock_board, clocks
from jobs.people import signed_in
from jobs.refusals import Refusal, Unusable
from jobs.sent import key_of


@login_required
@require_http_methods(["GET", "POST"])
def promise(request: HttpRequest, promise_id: int) -> HttpResponse:
    """`/desk/promises/ID`: `did` says it was done, `agree` asks for another time."""
    access.require_room(request.user, "desk")
    zone, now = area_of(request).zone, timezone.now()
    timezone.activate(zone)
    line, ended = clock_board.clock(promise_id, zone=zone, now=now)
    context = {"clock": line, "ended": ended, "key": uuid4(), "typed": request.POST, "zone": zone}
    if request.method == "GET":
        return render(request, "dispatch/desk/promise.html", context)
    try:
        _write(request, promise_id, zone, now)
    except Refusal as refusal:
        return render(request, "dispatch/desk/promise.html", {**context, "refusal": refusal}, status=refusal.status)
    return redirect("desk:board")


def _write(request: HttpRequest, promise_id: int, zone: ZoneInfo, now: datetime) -> None:
    key, actor = key_of(request), signed_in(request.user)
    if request.POST.get("what") == "did":
        done = clocks.meet_promise(
            key=key, actor=actor, now=now, promise_id=promise_id, next_contact_at=_time(request, "next", zone)
        )
        messages.success(request, f"Recorded: {done.end.replace('_', ' ')}.")
        return
    new_due_at = _time(request, "new", zone)
    if new_due_at is None:
        raise Unusable("Choose the day and the time that were agreed.", where="new_time")
    with_whom = request.POST.get("with_whom", "")
    done = other_day.agree_another_time(
        key=key, actor=actor, now=now, promise_id=promise_id, new_due_at=new_due_at, with_whom=with_whom
    )
    messages.success(request, f"Recorded: {done.end.replace('_', ' ')}. The new time has its own clock.")


def _time(request: HttpRequest, name: str, zone: ZoneInfo) -> datetime | None:
    """A time by the desk's clock; today's where no day was given."""
    if not request.POST.get(f"{name}_time", "").strip():
        return None
    given = request.POST.get(f"{name}_day", "").strip()
    day = call_forms.day_of(request, f"{name}_day") if given else timezone.now().astimezone(zone).date()
    return call_forms.time_on(request, f"{name}_time", day, str(zone))
