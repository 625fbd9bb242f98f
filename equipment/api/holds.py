"""Holding, confirming, changing and releasing."""

from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from equipment import reservations
from jobs.api_base import UseCaseView, read, writes


class Wanted(serializers.Serializer[Any]):
    """So many units of one pool."""

    pool_id = serializers.IntegerField(min_value=1)
    units = serializers.IntegerField(min_value=1, max_value=10_000)


class HoldIn(serializers.Serializer[Any]):
    """What is held for which job, when, for how long unconfirmed, and what it rests on."""

    job_id = serializers.IntegerField(min_value=1)
    wanted = Wanted(many=True, allow_empty=False)
    starts_at = serializers.DateTimeField()
    ends_at = serializers.DateTimeField()
    keep_for = serializers.DurationField()
    sizing_id = serializers.IntegerField(min_value=1, required=False, allow_null=True)
    leads_reason = serializers.CharField(max_length=300, required=False, allow_blank=True)

    def validate_wanted(self, value: list[dict[str, int]]) -> tuple[tuple[int, int], ...]:
        return tuple((row["pool_id"], row["units"]) for row in value)


class HoldsView(UseCaseView):
    """Hold equipment for a job."""

    verbs = {"POST": "hold"}

    @writes(HoldIn, reservations.Held, status=201)
    def post(self, request: Request) -> Response:
        return self.answer(reservations.hold(**self.common(request), **read(HoldIn, request)), status=201)


class Nothing(serializers.Serializer[Any]):
    """No body is needed."""


class ConfirmView(UseCaseView):
    """Make a hold lasting."""

    verbs = {"POST": "confirm_hold"}

    @writes(None, reservations.Changed)
    def post(self, request: Request, reservation_id: int) -> Response:
        read(Nothing, request)
        return self.answer(reservations.confirm_hold(**self.common(request), reservation_id=reservation_id))


class ExtendIn(serializers.Serializer[Any]):
    """What becomes more; what is not given stays."""

    ends_at = serializers.DateTimeField(required=False)
    quantity = serializers.IntegerField(min_value=1, max_value=10_000, required=False)
    keep_for = serializers.DurationField(required=False)
    reason = serializers.CharField(max_length=300, required=False, allow_blank=True)


class ExtendView(UseCaseView):
    """Promise for longer or more."""

    verbs = {"POST": "extend_hold"}

    @writes(ExtendIn, reservations.Changed)
    def post(self, request: Request, reservation_id: int) -> Response:
        terms = read(ExtendIn, request)
        return self.answer(reservations.extend_hold(**self.common(request), reservation_id=reservation_id, **terms))


class ShortenIn(serializers.Serializer[Any]):
    """What becomes less; what is not given stays."""

    ends_at = serializers.DateTimeField(required=False)
    quantity = serializers.IntegerField(min_value=1, max_value=10_000, required=False)
    reason = serializers.CharField(max_length=300, required=False, allow_blank=True)


class ShortenView(UseCaseView):
    """Promise for a shorter time or less."""

    verbs = {"POST": "shorten_hold"}

    @writes(ShortenIn, reservations.Changed)
    def post(self, request: Request, reservation_id: int) -> Response:
        terms = read(ShortenIn, request)
        return self.answer(reservations.shorten_hold(**self.common(request), reservation_id=reservation_id, **terms))


class ReleaseIn(serializers.Serializer[Any]):
    """Why it is released."""

    reason = serializers.CharField(max_length=300, required=False, allow_blank=True)


class ReleaseView(UseCaseView):
    """Give back what was promised and not yet taken."""

    verbs = {"POST": "release_hold"}

    @writes(ReleaseIn, reservations.Changed)
    def post(self, request: Request, reservation_id: int) -> Response:
        terms = read(ReleaseIn, request)
        return self.answer(reservations.release_hold(**self.common(request), reservation_id=reservation_id, **terms))


class CloseHoldView(UseCaseView):
    """End a promise whose work is done; what was drawn on it has come back."""

    verbs = {"POST": "close_hold"}

    @writes(ReleaseIn, reservations.Changed)
    def post(self, request: Request, reservation_id: int) -> Response:
        terms = read(ReleaseIn, request)
        return self.answer(reservations.close_hold(**self.common(request), reservation_id=reservation_id, **terms))
