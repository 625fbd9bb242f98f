"""What is free, and where can I get it: the desk's questions, answered on the same page. Nothing is written."""

from dataclasses import dataclass

from django import forms
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from dispatch import where_to_get
from dispatch.desk.views import area_of
from equipment.what_is_free import free_page
from jobs import access
from jobs.refusals import Refusal, Unusable
from jobs.sent import whole

LINES = 4


class PlaceForm(forms.Form):
    """Where it is needed."""

    job = forms.CharField(max_length=20, required=False)
    zip = forms.CharField(max_length=10, required=False)


@dataclass(frozen=True)
class Line:
    """One line of the need, as typed."""

    word: str = ""
    count: str = ""


@dataclass(frozen=True)
class SourcesPage:
    """What was asked and what was found; `asked` is false while nobody has asked yet."""

    choices: tuple[where_to_get.Choice, ...]
    lines: tuple[Line, ...]
    job: str = ""
    zip: str = ""
    asked: bool = False
    found: where_to_get.Sources | None = None
    refusal: str = ""
    where: str = ""


@login_required
@require_GET
def free(request: HttpRequest) -> HttpResponse:
    """`/desk/what-is-free`: when and where, who holds the rest, and the first hour at which so many are free."""
    access.require_room(request.user, "desk")
    area = area_of(request)
    timezone.activate(area.zone)
    page = free_page(area_id=area.pk, zone=area.zone, asked=request.GET, now=timezone.now())
    return render(request, "dispatch/desk/free.html", {"page": page}, status=400 if page.errors else 200)


@login_required
@require_GET
def sources(request: HttpRequest) -> HttpResponse:
    """`/desk/where-can-i-get`: the need and the place stand in the address, so that the answer can be passed on."""
    access.require_room(request.user, "desk")
    area = area_of(request)
    timezone.activate(area.zone)
    lines = _lines(request)
    job, zip_code = request.GET.get("job", ""), request.GET.get("zip", "")
    page = SourcesPage(where_to_get.choices(), (*lines, *(Line(),) * (LINES - len(lines))), job, zip_code)
    if not lines:
        return render(request, "dispatch/desk/sources.html", {"page": page})
    found, refusal, status = None, None, 200
    try:
        at_job, near = _place(request)
        found = where_to_get.find_sources(
            area_id=area.pk, needs=_needs(lines), now=timezone.now(), job_number=at_job, zip_code=near
        )
    except Refusal as refused:
        refusal, status = refused, refused.status
    page = SourcesPage(
        page.choices,
        page.lines,
        job,
        zip_code,
        True,
        found,
        refusal.message if refusal else "",
        str(refusal.data.get("where") or refusal.where or "") if refusal else "",
    )
    return render(request, "dispatch/desk/sources.html", {"page": page}, status=status)


def _lines(request: HttpRequest) -> tuple[Line, ...]:
    pairs = zip(request.GET.getlist("what"), request.GET.getlist("count"), strict=False)
    return tuple(Line(word.strip(), count.strip()) for word, count in pairs if word.strip())[:LINES]


def _needs(lines: tuple[Line, ...]) -> list[tuple[str, int]]:
    for line in lines:
        if not 1 <= (whole(line.count) or 0) <= 10_000:
            raise Unusable(f"{line.count!r} is no number of units. Write 1 to 10000.", where="count")
    return [(line.word, int(line.count)) for line in lines]


def _place(request: HttpRequest) -> tuple[str, str]:
    form = PlaceForm(request.GET)
    if not form.is_valid():
        field_name, errors = next(iter(form.errors.items()))
        raise Unusable(str(errors[0]), where=str(field_name))
    return form.cleaned_data["job"], form.cleaned_data["zip"]
