"""The API of the link in a page: what is asked and the answer to it, without a sign-in; who knows the token may."""

from typing import Any

from django.utils import timezone
from rest_framework import serializers
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response

from dispatch import answer_links, callouts
from dispatch.models import CallOutStep
from jobs.api_base import UseCaseView, read, reads, writes
from jobs.people import system_user


class LinkAnswerIn(serializers.Serializer[Any]):
    """Yes, or no with its reason."""

    answer = serializers.ChoiceField(choices=[CallOutStep.Answer.LEAVING, CallOutStep.Answer.CANNOT])
    reason = serializers.CharField(required=False, allow_blank=True, max_length=120)


class AnswerLinkView(UseCaseView):
    """What the link of a page asks, and its answer."""

    authentication_classes = []
    permission_classes = [AllowAny]

    @reads(answer_links.AskedByLink)
    def get(self, request: Request, token: str) -> Response:
        return self.answer(answer_links.asked_by_link(token=token, now=timezone.now()))

    @writes(LinkAnswerIn, callouts.Answered)
    def post(self, request: Request, token: str) -> Response:
        common = {**self.common(request), "actor": system_user()}
        asked = answer_links.asked_by_link(token=token, now=common["now"])
        told = read(LinkAnswerIn, request)
        answered = answer_links.answer_by_link(**common, call_out_id=asked.call_out_id, number=asked.number, **told)
        return self.answer(answered)
