"""The API of managers' overrides of who may go."""

from datetime import timedelta
from typing import Any

from django.shortcuts import get_object_or_404
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from dispatch import managers_word, overrides
from dispatch.desk.job_crews import JobCrews, job_crews
from jobs import access
from jobs.api import CallView, JobView
from jobs.api_base import UseCaseView, read, reads, writes
from jobs.models import Area, Job
from jobs.refusals import NotThere


class OverrideIn(serializers.Serializer[Any]):
    """Which crew may go, why, and until when (left out: to the crew's latest hour)."""

    crew_id = serializers.IntegerField(min_value=1)
    reason = serializers.CharField(allow_blank=True, max_length=300)
    until = serializers.DateTimeField(required=False)


class CallOverrideView(UseCaseView):
    """Let a crew go to an open call in spite of what stands against it."""

    verbs = {"POST": "override"}
    state_of = CallView

    @writes(OverrideIn, overrides.Overridden, status=201)
    def post(self, request: Request, call_id: int) -> Response:
        said = managers_word.override(call_id=call_id, **self.common(request), **read(OverrideIn, request))
        return self.answer(said, status=201)


class JobOverrideView(UseCaseView):
    """Let a crew go to an open job in spite of what stands against it."""

    verbs = {"POST": "override"}
    state_of = JobView

    @writes(OverrideIn, overrides.Overridden, status=201)
    def post(self, request: Request, job_id: int) -> Response:
        said = managers_word.override(job_id=job_id, **self.common(request), **read(OverrideIn, request))
        return self.answer(said, status=201)


class JobCrewsView(UseCaseView):
    """Every crew of tonight with what stands against it for one job."""

    roles = frozenset({access.DISPATCHER, access.MANAGER})

    @reads(JobCrews)
    def get(self, request: Request, job_id: int) -> Response:
        job = get_object_or_404(Job, pk=job_id)
        shown = job_crews(area_id=job.area_id, number=job.number, now=timezone.now())
        if shown is None:
            raise NotThere(f"There is no job {job_id}.")
        return self.answer(shown)


class OverridesView(UseCaseView):
    """What was overridden in an area since a time (left out: in the last day), oldest first."""

    roles = frozenset({access.DISPATCHER, access.MANAGER})

    @reads(overrides.Overridden, many=True)
    def get(self, request: Request, area: str) -> Response:
        place, now = get_object_or_404(Area, code=area), timezone.now()
        given = request.query_params.get("since")
        since = now - timedelta(days=1) if given is None else serializers.DateTimeField().run_validation(given)
        return self.answer(overrides.overrides(area_id=place.pk, since=since))
