"""The rota at the desk: look, think a change through with what it does, then do it."""

from datetime import date, datetime
from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from dispatch.desk import call_forms
from dispatch.desk.views import area_of
from dispatch.models import Shift
from dispatch.rota import changing, pages
from dispatch.rota.nights import tonight
from jobs import access
from jobs.models import Area
from jobs.people import signed_in
from jobs.refusals import Refusal, Unusable
from jobs.sent import key_of, whole

FEWEST_PLACES = 8
TITLES = {
    "make": "Make a shift",
    "cover": "Cover a shift",
    "swap": "Swap shifts",
    "cancel": "Take a shift out",
    "order": "Set the call-out order",
}


@login_required
@require_GET
def rota(request: HttpRequest) -> HttpResponse:
    """`/desk/rota?day=YYYY-MM-DD`."""
    access.require_room(request.user, "desk")
    area, now = area_of(request), timezone.now()
    timezone.activate(area.zone)
    given = request.GET.get("day", "")
    try:
        day = date.fromisoformat(given) if given else None
        page, refusal = pages.rota_page(area=area, now=now, day=day), None
    except ValueError:
        page = pages.rota_page(area=area, now=now)
        refusal = Unusable(f"{given} is no day; write it like {page.day.isoformat()}.", where="day")
    context = {"page": page, "refusal": refusal, "kinds": Shift.Kind.choices}
    return render(request, "dispatch/rota/rota.html", context, status=422 if refusal else 200)


@login_required
@require_http_methods(["GET", "POST"])
def change(request: HttpRequest) -> HttpResponse:
    """`/desk/rota/change?what=...`: a change thought through; `confirm` does it."""
    access.require_room(request.user, "desk")
    area, now = area_of(request), timezone.now()
    timezone.activate(area.zone)
    typed = request.POST if request.method == "POST" else request.GET
    what = typed.get("what", "") if typed.get("what") in TITLES else "make"
    chosen = [number for one in typed.getlist("person_ids") if (number := whole(one)) is not None]
    context: dict[str, Any] = {
        "what": what,
        "title": TITLES[what],
        "typed": typed,
        "area": area,
        "day": typed.get("day") or tonight(area, now).of.isoformat(),
        "kinds": Shift.Kind.choices,
        "people": pages.rota_page(area=area, now=now).people,
        "vehicles": pages.vehicles(area) if what == "make" else (),
        "chosen": chosen,
        "places": list(enumerate([*chosen, *[0] * max(2, FEWEST_PLACES - len(chosen))], start=1)),
        "key": uuid4(),
    }
    shift_id = _number(typed.get("shift_id"))
    if shift_id:
        context |= {"shift": pages.shift_line(shift_id), "swaps": pages.others_shifts(shift_id, area=area, now=now)}
    if request.method == "GET":
        return render(request, "dispatch/rota/change.html", context)
    try:
        if not request.POST.get("confirm"):
            context["effect"] = changing.preview(_change(request, area, what, now), now=now)
            return render(request, "dispatch/rota/change.html", context)
        done = _do(request, area, what, now)
    except Refusal as refusal:
        return render(request, "dispatch/rota/change.html", {**context, "refusal": refusal}, status=refusal.status)
    messages.success(request, " ".join(done.effect.did))
    return redirect(f"{reverse('desk:rota')}?day={context['day']}")


def _change(request: HttpRequest, area: Area, what: str, now: datetime) -> changing.Change:
    """What was asked for, not done."""
    post = request.POST
    if what == "make":
        return changing.making(
            _number(post.get("person_id")), post.get("kind", ""), *_hours(request, area), _vehicle(post)
        )
    if what == "cover":
        return changing.covering(_number(post.get("shift_id")), _number(post.get("person_id")), now)
    if what == "swap":
        return changing.swapping(_number(post.get("shift_id")), _number(post.get("with_shift_id")), now)
    if what == "cancel":
        return changing.canceling(_number(post.get("shift_id")), now)
    return changing.ordering(area.pk, call_forms.day_of(request, "day"), _people(request), now)


def _do(request: HttpRequest, area: Area, what: str, now: datetime) -> changing.RotaChanged:
    post = request.POST
    common: dict[str, Any] = {
        "key": key_of(request),
        "actor": signed_in(request.user),
        "now": now,
        "reason": post.get("reason", ""),
    }
    if what == "make":
        starts_at, ends_at = _hours(request, area)
        person_id = _number(post.get("person_id"))
        kind = post.get("kind", "")
        return changing.make_shift(
            **common, person_id=person_id, kind=kind, starts_at=starts_at, ends_at=ends_at, vehicle_id=_vehicle(post)
        )
    if what == "order":
        night_of = call_forms.day_of(request, "day")
        return changing.order_call_outs(**common, area_id=area.pk, night_of=night_of, person_ids=_people(request))
    shift_id = _number(post.get("shift_id"))
    if what == "cover":
        return changing.cover_shift(**common, shift_id=shift_id, person_id=_number(post.get("person_id")))
    if what == "swap":
        return changing.swap_shifts(**common, shift_id=shift_id, with_shift_id=_number(post.get("with_shift_id")))
    return changing.cancel_shift(**common, shift_id=shift_id)


def _hours(request: HttpRequest, area: Area) -> tuple[datetime, datetime]:
    """A day with two clock times; an end that is not later than the start is on the next day."""
    day = call_forms.day_of(request, "day")
    starts_at = call_forms.time_on(request, "from", day, str(area.zone))
    ends_at = call_forms.time_on(request, "until", day, str(area.zone))
    if starts_at is None or ends_at is None:
        raise Unusable("Give the time at which the shift begins and the time at which it ends.", where="from")
    if ends_at <= starts_at:
        ends_at = call_forms.time_on(request, "until", pages.next_day(day), str(area.zone)) or ends_at
    return starts_at, ends_at


def _people(request: HttpRequest) -> list[int]:
    return [number for one in request.POST.getlist("person_ids") if (number := whole(one)) is not None]


def _vehicle(post: QueryDict) -> int | None:
    return _number(post.get("vehicle_id")) or None


def _number(text: str | None) -> int:
    return whole(text) or 0
