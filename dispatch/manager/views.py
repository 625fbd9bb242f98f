"""The manager's pages: what is about to go wrong, the measures of a month, each measure's cases as page or file."""

from collections.abc import Sequence
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from dispatch.desk.views import area_of
from dispatch.manager import pages, surge_page
from dispatch.manager.asking import asked
from dispatch.measures import tables
from equipment.sheets.writing import csv_text
from jobs import access


@login_required
@require_GET
def overview(request: HttpRequest) -> HttpResponse:
    """`/manager`: tonight and the days ahead on one page."""
    access.require_room(request.user, "manager")
    area, now = area_of(request), timezone.now()
    timezone.activate(area.zone)
    return render(request, "dispatch/manager/overview.html", {"page": pages.overview(area=area, now=now)})


@login_required
@require_GET
def surge(request: HttpRequest) -> HttpResponse:
    """`/manager/surge`: what can be served, and what would help."""
    access.require_room(request.user, "manager")
    area, now = area_of(request), timezone.now()
    timezone.activate(area.zone)
    return render(request, "dispatch/manager/surge.html", {"page": surge_page.surge_page(area=area, now=now)})


@login_required
@require_GET
def measures(request: HttpRequest) -> HttpResponse:
    """`/manager/measures`: every measure of one month."""
    return _shown(request, "dispatch/manager/measures.html")


@login_required
@require_GET
def measure(request: HttpRequest, code: str) -> HttpResponse:
    """`/manager/measures/<code>`: one measure, its months, groups and cases."""
    return _shown(request, "dispatch/manager/measure.html", code=code)


def _shown(request: HttpRequest, template: str, code: str = "") -> HttpResponse:
    access.require_room(request.user, "manager")
    area, now = area_of(request), timezone.now()
    timezone.activate(area.zone)
    span, chosen = asked(request.GET, area=area, now=now)
    context: dict[str, Any] = {
        "area": area.name,
        "choice": pages.choices(area=area, span=span, chosen=chosen),
        "query": request.GET.urlencode(),
    }
    if code:
        context["page"] = tables.measure_page(code, span=span, chosen=chosen)
    else:
        context["lines"] = tables.measures_of(span, chosen)
    return render(request, template, context)


@login_required
@require_GET
def measures_file(request: HttpRequest) -> HttpResponse:
    """All measures of one month as CSV."""
    access.require_room(request.user, "manager")
    area, now = area_of(request), timezone.now()
    span, chosen = asked(request.GET, area=area, now=now)
    columns = ("measure", "definition", "figure", "more", "cases", "open")
    return _csv(
        f"measures-{span.first:%Y-%m}.csv",
        columns,
        [
            (line.name, line.definition, line.said, line.more, line.cases, line.open_cases)
            for line in tables.measures_of(span, chosen)
        ],
    )


@login_required
@require_GET
def measure_file(request: HttpRequest, code: str) -> HttpResponse:
    """Every case of one measure as CSV."""
    access.require_room(request.user, "manager")
    area, now = area_of(request), timezone.now()
    span, chosen = asked(request.GET, area=area, now=now)
    found, cases = tables.cases_of(code, span=span, chosen=chosen)
    columns = ("at", "job", "figure", "of", "unit", "what", "group", "warehouse", "crew", "payer", "open")
    return _csv(
        f"{code}-{span.first:%Y-%m}.csv",
        columns,
        [
            (
                case.at.astimezone(area.zone).isoformat(timespec="minutes"),
                case.job,
                round(case.part, 4),
                round(case.whole, 4),
                found.unit,
                case.what,
                case.group,
                case.warehouse,
                case.crew,
                case.payer,
                "yes" if case.open else "no",
            )
            for case in cases
        ],
    )


def _csv(name: str, columns: Sequence[str], rows: Sequence[Sequence[object]]) -> HttpResponse:
    answer = HttpResponse(csv_text(columns, rows), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer
