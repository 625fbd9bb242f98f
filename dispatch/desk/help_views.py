"""Help between areas, on the desk: ask, give, decline, take back."""

from datetime import timedelta
from typing import Any

from django import forms
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from dispatch import helping
from dispatch.desk.views import area_of
from jobs import access
from jobs.models import Area
from jobs.people import signed_in
from jobs.refusals import Refusal, Unusable
from jobs.sent import key_of, whole_of


class AskForm(forms.Form):
    """Whom, when, why."""

    of_area_code = forms.ChoiceField(label="Which area")
    day = forms.DateField(label="Day", widget=forms.DateInput(attrs={"type": "date"}))
    why = forms.CharField(label="Why", max_length=200, help_text="The other area gives up a crew for it.")

    def __init__(self, *args: Any, areas: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["of_area_code"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = areas


@login_required
@require_http_methods(["GET", "POST"])
def help_page(request: HttpRequest) -> HttpResponse:
    """`/desk/help`."""
    access.require_room(request.user, "desk")
    area, viewer, now = area_of(request), signed_in(request.user), timezone.now()
    others = list(Area.objects.exclude(pk=area.pk).order_by("name").values_list("code", "name"))
    today = now.astimezone(area.zone).date()
    form, status = AskForm(areas=others, initial={"day": today}), 200
    context: dict[str, Any] = {}
    if request.method == "POST":
        try:
            if request.POST.get("do") == "ask":
                form = AskForm(request.POST, areas=others)
                status = _ask(request, form, viewer, area)
            else:
                _answer(request, viewer)
        except Refusal as refusal:
            status, context = refusal.status, {"refusal": refusal}
    rows = helping.help_list(viewer, since=today - timedelta(days=1))
    timezone.activate(area.zone)
    context |= {"area": area.name, "rows": rows, "form": form, "others": others}
    return render(request, "dispatch/desk/help.html", context, status=status)


def _ask(request: HttpRequest, form: AskForm, viewer: User, area: Area) -> int:
    if not form.is_valid():
        return 422
    helping.ask_for_help(**_common(request, viewer), area_id=area.pk, **form.cleaned_data)
    return 200


def _answer(request: HttpRequest, viewer: User) -> None:
    help_id, does = whole_of(request, "help"), request.POST.get("do")
    common = _common(request, viewer)
    if does == "give":
        helping.give_help(**common, help_id=help_id, crew_id=whole_of(request, "crew"))
    elif does == "decline":
        helping.decline_help(**common, help_id=help_id, reason=request.POST.get("reason", ""))
    elif does == "take_back":
        helping.take_back_help(**common, own_help_id=help_id)
    else:
        raise Unusable("This button is not known here. Load the page again.")


def _common(request: HttpRequest, viewer: User) -> dict[str, Any]:
    return {"key": key_of(request), "actor": viewer, "now": timezone.now()}
