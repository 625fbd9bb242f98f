"""What a step may read of the manager's pages."""

from datetime import datetime

from django.contrib.auth.models import User

from dispatch.manager import loans as loan_lines
from dispatch.manager import pages, surge_page
from dispatch.measures import tables
from dispatch.measures.cases import Span
from dispatch.measures.tables import Chosen
from jobs.models import Area


def manager(*, viewer: User, now: datetime, area_id: int) -> pages.Overview:
    return pages.overview(area=Area.objects.get(pk=area_id), now=now)


def surge(*, viewer: User, now: datetime, area_id: int) -> surge_page.SurgePage:
    return surge_page.surge_page(area=Area.objects.get(pk=area_id), now=now)


def loans(*, viewer: User, now: datetime, area_id: int) -> loan_lines.Loans:
    return loan_lines.loans(area=Area.objects.get(pk=area_id), now=now)


def measures(*, viewer: User, now: datetime, area_id: int, year: int, month: int) -> tuple[tables.MeasureLine, ...]:
    return tables.measures_of(_span(area_id, year, month, now), Chosen())


def measure(*, viewer: User, now: datetime, area_id: int, code: str, year: int, month: int) -> tables.MeasurePage:
    return tables.measure_page(code, span=_span(area_id, year, month, now), chosen=Chosen())


def _span(area_id: int, year: int, month: int, now: datetime) -> Span:
    area = Area.objects.get(pk=area_id)
    return Span.month(area_id=area.pk, zone=area.zone, year=year, month=month, now=now)
