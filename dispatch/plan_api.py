"""The API of day plans: asking for one, looking at it, deciding, and what one change would bring."""

from typing import Any

from django.shortcuts import get_object_or_404
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from dispatch import planning, what_if
from dispatch.desk import plan_pages
from dispatch.models import Plan
from jobs import access
from jobs.api_base import UseCaseView, read, reads, writes
from jobs.models import Area
from jobs.refusals import NotThere

DESK = frozenset({access.DISPATCHER, access.MANAGER})


class PlanIn(serializers.Serializer[Any]):
    """Which day, and how long to search."""

    area = serializers.SlugField()
    day = serializers.DateField()
    seconds = serializers.IntegerField(min_value=1, max_value=600, required=False)
    seed = serializers.IntegerField(min_value=0, max_value=2**31 - 1, required=False)
    publish = serializers.BooleanField(required=False)


class PlansView(UseCaseView):
    """Ask for a day's plan."""

    verbs = {"POST": "plan_day"}

    @writes(PlanIn, planning.Asked, status=202)
    def post(self, request: Request) -> Response:
        sent = read(PlanIn, request)
        area = Area.objects.filter(code=sent.pop("area")).first()
        if area is None:
            raise NotThere("There is no such area. The areas' codes stand in the master data.", where="area")
        return self.answer(planning.plan_day(area_id=area.pk, **self.common(request), **sent), status=202)


class PlanView(UseCaseView):
    """One plan to look at."""

    roles = DESK

    @reads(plan_pages.PlanPage)
    def get(self, request: Request, plan_id: int) -> Response:
        plan = get_object_or_404(Plan.objects.only("area_id"), pk=plan_id)
        page = plan_pages.plan_page(area_id=plan.area_id, plan_id=plan_id)
        return self.answer(page)


class PublishView(UseCaseView):
    """Make a draft the day's routes."""

    verbs = {"POST": "publish_plan"}
    state_of = PlanView

    @writes(None, planning.Published)
    def post(self, request: Request, plan_id: int) -> Response:
        return self.answer(planning.publish_plan(plan_id=plan_id, **self.common(request)))


class WithdrawView(UseCaseView):
    """Take a published plan back."""

    verbs = {"POST": "withdraw_plan"}
    state_of = PlanView

    @writes(None, planning.Published)
    def post(self, request: Request, plan_id: int) -> Response:
        return self.answer(planning.withdraw_plan(plan_id=plan_id, **self.common(request)))


class WhatIfIn(serializers.Serializer[Any]):
    """One changed thing: a crew like `subject` until `until`, or the window of the visit `subject`, wider both ways."""

    what = serializers.ChoiceField(choices=("crew", "window"))
    subject = serializers.CharField(max_length=80)
    until = serializers.TimeField(required=False)
    wider_min = serializers.IntegerField(required=False, min_value=1, max_value=12 * 60)


class WhatIfView(UseCaseView):
    """Ask what one change would bring; the plan tells the answer among its `what_ifs` when it is there."""

    verbs = {"POST": "ask_what_if"}

    @writes(WhatIfIn, what_if.WhatIfAsked, status=202)
    def post(self, request: Request, plan_id: int) -> Response:
        question = what_if.Question(**read(WhatIfIn, request))
        return self.answer(what_if.ask_what_if(plan_id=plan_id, question=question, **self.common(request)), status=202)
