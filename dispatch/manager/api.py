"""The API of the manager's pages: reads only, for managers."""

from datetime import datetime
from typing import Any

from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter
from rest_framework.request import Request
from rest_framework.response import Response

from dispatch.manager import pages, surge_page
from dispatch.manager.asking import asked
from dispatch.measures import tables
from jobs import access
from jobs.api_base import UseCaseView, reads
from jobs.models import Area

_CHOICE: list[Any] = [
    OpenApiParameter("month", str, description="The month, such as 2026-01; else the present one."),
    OpenApiParameter("warehouse", str, description="Cases of this warehouse only, by its name."),
    OpenApiParameter("crew", str, description="Cases of this crew lead only, by name."),
    OpenApiParameter("payer", str, description="Cases of this payer only, by its name."),
]


class ManagerView(UseCaseView):
    """Open to managers."""

    roles = frozenset({access.MANAGER})

    def here(self, area: str) -> tuple[Area, datetime]:
        """The area of the address, and the clock, read once."""
        return get_object_or_404(Area, code=area), timezone.now()


class OverviewView(ManagerView):
    """What is about to go wrong."""

    @reads(pages.Overview)
    def get(self, request: Request, area: str) -> Response:
        found, now = self.here(area)
        return self.answer(pages.overview(area=found, now=now))


class SurgeView(ManagerView):
    """What can be served in a surge, and what would help."""

    @reads(surge_page.SurgePage)
    def get(self, request: Request, area: str) -> Response:
        found, now = self.here(area)
        return self.answer(surge_page.surge_page(area=found, now=now))


class MeasuresView(ManagerView):
    """Every measure of one month."""

    @reads(tables.MeasureLine, many=True, parameters=_CHOICE)
    def get(self, request: Request, area: str) -> Response:
        found, now = self.here(area)
        span, chosen = asked(request.query_params, area=found, now=now)
        return self.answer(tables.measures_of(span, chosen))


class MeasureView(ManagerView):
    """One measure of one month, with its months, groups and cases."""

    @reads(tables.MeasurePage, parameters=_CHOICE)
    def get(self, request: Request, area: str, code: str) -> Response:
        found, now = self.here(area)
        span, chosen = asked(request.query_params, area=found, now=now)
        return self.answer(tables.measure_page(code, span=span, chosen=chosen))
