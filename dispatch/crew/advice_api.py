"""The API of what is suggested at a stop of one's own route, and of the lead's decision on it."""

from typing import Any

from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from dispatch.crew.api import own_visit
from dispatch.crew.on_site_api import FIELD
from equipment.advice import AdviceLine, advice_of, decide_on_advice
from jobs.api_base import UseCaseView, read, reads, writes
from jobs.leads_word import WordKept
from jobs.people import signed_in


class AdviceIn(serializers.Serializer[Any]):
    """On which suggestion, in which words it was seen, whether it is followed, and the reason where it is not."""

    advice = serializers.CharField(max_length=90)
    follow = serializers.BooleanField()
    seen = serializers.CharField(required=False, allow_blank=True, max_length=300)
    reason = serializers.CharField(required=False, allow_blank=True, max_length=300)


class StopAdviceView(UseCaseView):
    """What to change at the stop's job, with the working; the lead's decision."""

    verbs = {"POST": "set_leads_word"}
    roles = FIELD

    @reads(AdviceLine, many=True)
    def get(self, request: Request, visit_id: int) -> Response:
        return self.answer(advice_of(own_visit(signed_in(request.user), visit_id).job_id, now=timezone.now()))

    @writes(AdviceIn, WordKept, status=201)
    def post(self, request: Request, visit_id: int) -> Response:
        job_id = own_visit(signed_in(request.user), visit_id).job_id
        return self.answer(
            decide_on_advice(job_id=job_id, **self.common(request), **read(AdviceIn, request)), status=201
        )
