"""The API of help between areas."""

from datetime import timedelta
from typing import Any

from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from dispatch import helping
from jobs import access
from jobs.api_base import UseCaseView, read, reads, writes
from jobs.models import Area
from jobs.people import signed_in
from jobs.refusals import NotThere


class AskIn(serializers.Serializer[Any]):
    """Who asks whom for a crew, for which day, and why. Areas by their codes."""

    area = serializers.SlugField(max_length=20)
    of_area_code = serializers.SlugField(max_length=20)
    day = serializers.DateField()
    why = serializers.CharField(max_length=200)


class HelpListView(UseCaseView):
    """Requests for help by and of your areas; asking."""

    verbs = {"POST": "ask_for_help"}
    roles = frozenset({access.DISPATCHER, access.MANAGER})

    @reads(helping.HelpLine, many=True)
    def get(self, request: Request) -> Response:
        since = timezone.now().date() - timedelta(days=1)
        return self.answer(helping.help_list(signed_in(request.user), since=since))

    @writes(AskIn, helping.HelpAnswered, status=201)
    def post(self, request: Request) -> Response:
        sent = read(AskIn, request)
        area = Area.objects.filter(code=sent.pop("area")).first()
        if area is None:
            raise NotThere("There is no such area. See /api/v1/areas.", where="area")
        return self.answer(helping.ask_for_help(area_id=area.pk, **self.common(request), **sent), status=201)


class GiveIn(serializers.Serializer[Any]):
    """Which crew of that day is lent."""

    crew_id = serializers.IntegerField(min_value=1)


class GiveHelpView(UseCaseView):
    """Lend a crew."""

    verbs = {"POST": "give_help"}
    state_of = HelpListView

    @writes(GiveIn, helping.HelpAnswered)
    def post(self, request: Request, help_id: int) -> Response:
        return self.answer(helping.give_help(help_id=help_id, **self.common(request), **read(GiveIn, request)))


class DeclineIn(serializers.Serializer[Any]):
    """Why not."""

    reason = serializers.CharField(max_length=200)


class DeclineHelpView(UseCaseView):
    """Say that no crew can be spared."""

    verbs = {"POST": "decline_help"}
    state_of = HelpListView

    @writes(DeclineIn, helping.HelpAnswered)
    def post(self, request: Request, help_id: int) -> Response:
        return self.answer(helping.decline_help(help_id=help_id, **self.common(request), **read(DeclineIn, request)))


class TakeBackHelpView(UseCaseView):
    """Say that help is not needed any more."""

    verbs = {"POST": "take_back_help"}
    state_of = HelpListView

    @writes(None, helping.HelpAnswered)
    def post(self, request: Request, own_help_id: int) -> Response:
        return self.answer(helping.take_back_help(own_help_id=own_help_id, **self.common(request)))
