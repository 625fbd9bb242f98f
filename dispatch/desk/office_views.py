"""The manager's office: tokens of programs, who looked at private facts, what is erased when."""

from datetime import timedelta
from typing import Any

from django import forms
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods

from jobs import access, looks, retention, tokens
from jobs.models import Area
from jobs.people import signed_in
from jobs.refusals import Refusal
from jobs.sent import key_of, whole_of


class TokenForm(forms.Form):
    """Whose token, for which program, for how long, how much."""

    user_name = forms.ChoiceField(label="For whom", help_text="The program signs in as this person.")
    name = forms.CharField(label="Which program uses it", max_length=60)
    days = forms.IntegerField(label="Days until it ends", min_value=1, max_value=tokens.LONGEST_DAYS, initial=90)
    reads = forms.BooleanField(label="It may read", required=False, initial=True)
    verbs = forms.MultipleChoiceField(
        label="What else it may do", required=False, help_text="Only what the person may do, too."
    )
    area_codes = forms.MultipleChoiceField(
        label="Only in these areas", required=False, help_text="None chosen: wherever the person works."
    )

    def __init__(self, *args: Any, people: list[tuple[str, str]], areas: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        verbs = sorted(verb for verb, roles in access.VERBS.items() if roles and verb not in tokens.NEVER)
        choices = {
            "user_name": people,
            "verbs": [(verb, verb.replace("_", " ")) for verb in verbs],
            "area_codes": areas,
        }
        for name, values in choices.items():
            field = self.fields[name]
            assert isinstance(field, forms.ChoiceField)
            field.choices = values


@login_required
@never_cache
@require_http_methods(["GET", "POST"])
def office(request: HttpRequest) -> HttpResponse:
    """`/desk/office`: every token, making one, revoking one. What to sign in with stands on the answer alone."""
    access.require_room(request.user, "manager")
    viewer = signed_in(request.user)
    form = TokenForm(people=_people(viewer), areas=_areas(viewer))
    shown: dict[str, Any] = {}
    status = 200
    if request.method == "POST":
        try:
            if "revoke" in request.POST:
                tokens.revoke_token(**_common(request), token_id=whole_of(request, "revoke"))
            else:
                form = TokenForm(request.POST, people=_people(viewer), areas=_areas(viewer))
                status, shown = _make(request, form)
        except Refusal as refusal:
            status, shown = refusal.status, {"refusal": refusal}
    rows = tokens.tokens(viewer, now=timezone.now())
    return render(request, "dispatch/desk/office.html", {"tokens": rows, "form": form, **shown}, status=status)


class LooksForm(forms.Form):
    """Which part of the trail."""

    days = forms.IntegerField(label="Days back", min_value=1, max_value=730, initial=7, required=False)
    job = forms.CharField(label="Job number", max_length=20, required=False)
    who = forms.CharField(label="User name", max_length=150, required=False)


@login_required
@require_GET
def who_looked(request: HttpRequest) -> HttpResponse:
    """`/desk/office/looks`: who saw and changed private facts, and how long which data is kept."""
    access.require_room(request.user, "manager")
    form = LooksForm(request.GET or None)
    asked: dict[str, Any] = form.cleaned_data if form.is_valid() else {}
    now = timezone.now()
    rows = looks.trail(
        signed_in(request.user),
        since=now - timedelta(days=asked.get("days") or 7),
        job_number=asked.get("job", "").strip(),
        user_name=asked.get("who", "").strip(),
    )
    periods = tuple(retention.in_force().values())
    context = {"form": form, "looks": rows, "periods": periods}
    return render(request, "dispatch/desk/looks.html", context, status=422 if form.errors else 200)


def _make(request: HttpRequest, form: TokenForm) -> tuple[int, dict[str, Any]]:
    if not form.is_valid():
        return 422, {}
    sent = {**form.cleaned_data, "verbs": tuple(form.cleaned_data["verbs"])}
    tokens.make_token(**_common(request), **{**sent, "area_codes": tuple(sent["area_codes"])})
    return 200, {"told": tokens.secret_of(key_of(request))}


def _common(request: HttpRequest) -> dict[str, Any]:
    return {"key": key_of(request), "actor": signed_in(request.user), "now": timezone.now()}


def _people(viewer: User) -> list[tuple[str, str]]:
    mine = access.areas_of(viewer)
    rows = User.objects.filter(is_active=True, memberships__isnull=False)
    rows = rows if mine is None else rows.filter(memberships__area__in=mine)
    return [
        (row.username, f"{row.get_full_name() or row.username} ({row.username})")
        for row in rows.order_by("username").distinct()
    ]


def _areas(viewer: User) -> list[tuple[str, str]]:
    mine = access.areas_of(viewer)
    rows = Area.objects.order_by("name")
    return list((rows if mine is None else rows.filter(pk__in=mine)).values_list("code", "name"))
