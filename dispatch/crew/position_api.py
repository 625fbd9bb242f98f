"""The API of the phone's own position. A lead tells and erases their own; the desk reads it on the board."""

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from dispatch.crew.api import HappenedIn
from dispatch.positions import PositionForgotten, PositionTold, forget_position, tell_position
from jobs.api_base import UseCaseView, read, writes


class PositionIn(HappenedIn):
    """Where the phone is by WGS 84, and within how many meters."""

    lat = serializers.FloatField(min_value=-90, max_value=90)
    lon = serializers.FloatField(min_value=-180, max_value=180)
    accuracy_m = serializers.FloatField(min_value=0)


class MyPositionView(UseCaseView):
    """Tell where the signed-in lead's phone is, or erase what was told."""

    verbs = {"POST": "tell_position", "DELETE": "forget_position"}

    @writes(PositionIn, PositionTold)
    def post(self, request: Request) -> Response:
        return self.answer(tell_position(**self.common(request), **read(PositionIn, request)))

    @writes(None, PositionForgotten)
    def delete(self, request: Request) -> Response:
        return self.answer(forget_position(**self.common(request)))
