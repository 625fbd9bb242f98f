"""The sizing of a job: the newest report, a new one, and the sheet for the job file."""

from typing import Any

from django.http import HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.negotiation import BaseContentNegotiation
from rest_framework.request import Request
from rest_framework.response import Response

from equipment.api.shared import READERS, whole_id
from equipment.sizing_paper import NotSizedYet, file_answer, paper_of
from equipment.sizing_reports import KeptReport, ReportMade, make_report, newest_report, size_job
from jobs import access
from jobs.api_base import UseCaseView, read, reads, writes
from jobs.models import Job
from jobs.people import signed_in
from jobs.refusals import NotThere
from jobs.selectors import area_ids_of


class SizingView(UseCaseView):
    """What the program suggests for a job; the lead decides."""

    verbs = {"POST": "size_job"}
    roles = READERS
    writers = frozenset({access.DISPATCHER, access.MANAGER})

    @reads(KeptReport)
    def get(self, request: Request, job_id: int) -> Response:
        """The newest report, as it was said then."""
        require_mine(request, job_id)
        kept = newest_report(job_id)
        if kept is None:
            raise NotSizedYet("This job was not sized yet. POST here to size it.")
        return self.answer(kept)

    @writes(None, ReportMade, status=201)
    def post(self, request: Request, job_id: int) -> Response:
        """Size the job by its rooms, category and classes as they are now; earlier reports stay."""
        require_mine(request, job_id)
        return self.answer(size_job(**self.common(request), job_id=job_id), status=201)


class EstimateIn(serializers.Serializer[Any]):
    """A loss in the words of `python -m equipment.sizing`, and the job whose report it becomes, if any."""

    loss = serializers.DictField()
    job_id = whole_id(required=False)


class EstimatesView(UseCaseView):
    """Size a loss as it was told; the report is kept."""

    verbs = {"POST": "estimate"}

    @writes(EstimateIn, ReportMade, status=201)
    def post(self, request: Request) -> Response:
        values = read(EstimateIn, request)
        if "job_id" in values:
            require_mine(request, values["job_id"])
        return self.answer(make_report(**self.common(request), **values), status=201)


class Either(BaseContentNegotiation):
    """A PDF is sent as it is; JSON, for a refusal, whatever the client asked for."""

    def select_parser(self, request, parsers):  # type: ignore[no-untyped-def]
        return parsers[0]

    def select_renderer(self, request, renderers, format_suffix=None):  # type: ignore[no-untyped-def]
        return renderers[0], renderers[0].media_type


class SizingSheetView(UseCaseView):
    """The printable sheet of the newest report, with the lead's words."""

    roles = READERS
    content_negotiation_class = Either

    @extend_schema(responses={(200, "application/pdf"): OpenApiTypes.BINARY})
    def get(self, request: Request, job_id: int) -> HttpResponse:
        require_mine(request, job_id)
        return file_answer(paper_of(job_id))


def require_mine(request: Request, job_id: int) -> None:
    """
    :raises NotThere: if the job is in no area of the signed-in person.
    """
    mine = area_ids_of(signed_in(request.user))
    jobs = Job.objects.filter(pk=job_id)
    if not (jobs if mine is None else jobs.filter(area_id__in=mine)).exists():
        raise NotThere(f"There is no job with the id {job_id} for you. See /api/v1/jobs.", where="job_id")
