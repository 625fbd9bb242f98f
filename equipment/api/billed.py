"""What was billed of a job's equipment, beside the log, over HTTP."""

from typing import Any

from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from equipment import billed_days
from equipment.api.lists import ListIn
from equipment.api.shared import area_of
from equipment.api.sizing import require_mine
from equipment.billed_days import BilledEntered, JobBill
from jobs import access
from jobs.api_base import UseCaseView, read, reads, writes
from jobs.models import Job


class BilledLineIn(serializers.Serializer[Any]):
    """Equipment-days of one model on the bill."""

    model = serializers.CharField(max_length=40)
    days = serializers.IntegerField(min_value=0, max_value=billed_days.MOST_DAYS)


class BilledIn(serializers.Serializer[Any]):
    """The whole bill: it stands in the place of what was entered before."""

    lines = BilledLineIn(many=True)


class BilledView(UseCaseView):
    """One job's bill beside its log."""

    roles = frozenset({access.DISPATCHER, access.MANAGER})
    verbs = {"POST": "enter_billed_days"}

    @reads(JobBill)
    def get(self, request: Request, job_id: int) -> Response:
        require_mine(request, job_id)
        return self.answer(billed_days.bills([Job.objects.get(pk=job_id)], now=timezone.now())[0])

    @writes(BilledIn, BilledEntered)
    def post(self, request: Request, job_id: int) -> Response:
        days = tuple((line["model"], line["days"]) for line in read(BilledIn, request)["lines"])
        return self.answer(billed_days.enter_billed_days(**self.common(request), job_id=job_id, days=days))


class BilledListView(UseCaseView):
    """What was billed of many jobs of an area (`?area=CODE`), as a CSV file's text: job, model, days."""

    verbs = {"POST": "import_billed_days"}

    @writes(ListIn, BilledEntered)
    def post(self, request: Request) -> Response:
        sent, area = read(ListIn, request), area_of(request)
        return self.answer(billed_days.import_billed_days(**self.common(request), area_id=area.pk, text=sent["text"]))
