"""The drying record of a job: as JSON, as one PDF, and as tables."""

from django.http import HttpResponse
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from equipment import record_paper
from equipment.api.shared import READERS
from equipment.api.sizing import Either, require_mine
from equipment.drying_record import DryingRecord, drying_record
from equipment.sizing_paper import file_answer
from jobs.api_base import UseCaseView, reads


class RecordView(UseCaseView):
    """What was suggested, decided, read and set up at a job, and its equipment-days."""

    roles = READERS

    @reads(DryingRecord)
    def get(self, request: Request, job_id: int) -> Response:
        return self.answer(_record(request, job_id))


class RecordPdfView(UseCaseView):
    """The record for the job file."""

    roles = READERS
    content_negotiation_class = Either

    @extend_schema(responses={(200, "application/pdf"): OpenApiTypes.BINARY})
    def get(self, request: Request, job_id: int) -> HttpResponse:
        return file_answer(record_paper.record_pdf(_record(request, job_id)))


class RecordTableView(UseCaseView):
    """One table of the record as CSV; which one, the address says (`record_paper.TABLES`)."""

    roles = READERS
    content_negotiation_class = Either
    table = "readings"

    @extend_schema(responses={(200, "text/csv"): OpenApiTypes.STR})
    def get(self, request: Request, job_id: int) -> HttpResponse:
        text = record_paper.TABLES[self.table](_record(request, job_id))
        return HttpResponse(text, content_type="text/csv; charset=utf-8")


def _record(request: Request, job_id: int) -> DryingRecord:
    require_mine(request, job_id)
    return drying_record(job_id, now=timezone.now())
