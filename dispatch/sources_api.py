"""The API of where a need can be got from."""

from typing import Any

from django.shortcuts import get_object_or_404
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from dispatch import where_to_get
from jobs import access
from jobs.api_base import UseCaseView, reads
from jobs.models import Area

MOST_NEEDS = 20


class SourcesIn(serializers.Serializer[Any]):
    """`need=lgr:2&need=AM-20:12` (a kind's word or a model's code, and how many), at `job` or near `zip`."""

    need = serializers.ListField(
        child=serializers.RegexField(
            r"^[A-Za-z0-9_-]{1,40}:[1-9][0-9]{0,4}$",
            error_messages={"invalid": "Write a kind's word or a model's code, a colon, and how many: lgr:2."},
        ),
        min_length=1,
        max_length=MOST_NEEDS,
    )
    job = serializers.CharField(max_length=20, required=False, default="")
    zip = serializers.CharField(max_length=10, required=False, default="")


class SourcesView(UseCaseView):
    """The nearest sources of a need, by drive time, with what each would cost whom."""

    roles = frozenset({access.DISPATCHER, access.WAREHOUSE, access.MANAGER})

    @reads(where_to_get.Sources)
    def get(self, request: Request, area: str) -> Response:
        asked = SourcesIn(data=request.query_params)
        asked.is_valid(raise_exception=True)
        sent = asked.validated_data
        needs = [(word, int(count)) for word, _, count in (need.partition(":") for need in sent["need"])]
        found = where_to_get.find_sources(
            area_id=get_object_or_404(Area, code=area).pk,
            needs=needs,
            now=timezone.now(),
            job_number=sent["job"],
            zip_code=sent["zip"],
        )
        return self.answer(found)
