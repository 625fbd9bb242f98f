"""The API of what dispatch does: offers, sending, call-outs, plans. Each write is one use case."""

from typing import Any

from django.shortcuts import get_object_or_404
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from dispatch import callouts, emergencies, offering
from dispatch.desk import handover_pages, night_pages, pages
from dispatch.models import CallOutStep
from jobs import access
from jobs.api import CallView
from jobs.api_base import UseCaseView, read, reads, writes
from jobs.models import Area, Call

DESK = frozenset({access.DISPATCHER, access.MANAGER})


class OffersView(UseCaseView):
    """Every crew, ranked or with the reason why not, for one call."""

    roles = DESK

    @reads(offering.Offers)
    def get(self, request: Request, call_id: int) -> Response:
        get_object_or_404(Call, pk=call_id)
        stabilize = request.query_params.get("stabilize") in ("1", "true")
        return self.answer(offering.offers(call_id=call_id, now=timezone.now(), stabilize=stabilize))


class SendIn(serializers.Serializer[Any]):
    """Which crew is sent."""

    crew_id = serializers.IntegerField(min_value=1)
    because = serializers.CharField(required=False, allow_blank=True, max_length=200)
    stabilize = serializers.BooleanField(required=False)


class SendView(UseCaseView):
    """Send a crew to a call."""

    verbs = {"POST": "send"}
    state_of = CallView

    @writes(SendIn, emergencies.Sent, status=201)
    def post(self, request: Request, call_id: int) -> Response:
        sent = emergencies.send(call_id=call_id, **self.common(request), **read(SendIn, request))
        return self.answer(sent, status=201)


class AnswerIn(serializers.Serializer[Any]):
    """What the asked person says; the desk names the person it has on the phone."""

    answer = serializers.ChoiceField(choices=[CallOutStep.Answer.LEAVING, CallOutStep.Answer.CANNOT])
    person_id = serializers.IntegerField(min_value=1, required=False)
    reason = serializers.CharField(required=False, allow_blank=True, max_length=120)


class AnswerView(UseCaseView):
    """Answer a call-out."""

    verbs = {"POST": "answer_call_out"}

    @writes(AnswerIn, callouts.Answered)
    def post(self, request: Request, call_out_id: int) -> Response:
        answered = callouts.answer_call_out(call_out_id=call_out_id, **self.common(request), **read(AnswerIn, request))
        return self.answer(answered)


class BoardView(UseCaseView):
    """What the desk's board shows."""

    roles = DESK

    @reads(pages.Board)
    def get(self, request: Request, area: str) -> Response:
        return self.answer(pages.board(area=get_object_or_404(Area, code=area), now=timezone.now()))


class HandoverView(UseCaseView):
    """The hand-over sheet: everything open, what to do first at the top."""

    roles = DESK

    @reads(handover_pages.HandoverSheet)
    def get(self, request: Request, area: str) -> Response:
        found = get_object_or_404(Area, code=area)
        return self.answer(handover_pages.handover_sheet(area=found, now=timezone.now()))


class NightBoardView(UseCaseView):
    """Tonight's board, as it is printed every hour: whom to phone, where to go, what is promised, what is free."""

    roles = DESK

    @reads(night_pages.NightBoard)
    def get(self, request: Request, area: str) -> Response:
        return self.answer(night_pages.night_board(area=get_object_or_404(Area, code=area), now=timezone.now()))
