"""Reading: units, what is free, sources, load lists, what must be looked at."""

from datetime import timedelta
from typing import Any

from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from equipment import selectors
from equipment.api.shared import READERS, area_of, asked
from equipment.numbers import unit_number
from jobs.api_base import UseCaseView, reads


class UnitsView(UseCaseView):
    """Units by number, model or place (`text`)."""

    roles = READERS

    @reads(selectors.UnitRow, counted=True, operation_id="units_list")
    def get(self, request: Request) -> Response:
        text = request.query_params.get("text", "")
        found = selectors.find_units(area_id=area_of(request).pk, text=text, at_most=1_000)
        return self.page(found, selectors.UnitRow, request)


class UnitView(UseCaseView):
    """One unit and everything that ever happened to it."""

    roles = READERS

    @reads(selectors.UnitHistory)
    def get(self, request: Request, number: str) -> Response:
        return self.answer(selectors.unit_history(unit_number(number)))


class When(serializers.Serializer[Any]):
    """Which moment or period is meant; without one, now."""

    at = serializers.DateTimeField(required=False)
    until = serializers.DateTimeField(required=False)
    wanted = serializers.IntegerField(required=False, min_value=1, max_value=10_000)
    model_id = serializers.IntegerField(required=False, min_value=1)


class AvailabilityView(UseCaseView):
    """Every model at every place: stock, promised, free, and the first time at which `wanted` are free."""

    roles = READERS

    @reads(selectors.Available, counted=True, operation_id="availability_list")
    def get(self, request: Request) -> Response:
        when = asked(When, request)
        found = selectors.availability(area_id=area_of(request).pk, now=timezone.now(), **when)
        return self.page(found, selectors.Available, request)


class HoldingsView(UseCaseView):
    """Who holds a pool, and until when."""

    roles = READERS

    @reads(selectors.Holding, many=True)
    def get(self, request: Request, pool_id: int) -> Response:
        return self.answer(selectors.who_holds(pool_id=pool_id, not_before=timezone.now()))


class Need(serializers.Serializer[Any]):
    """So many of a model, or of a kind, at a place over a period."""

    model_id = serializers.IntegerField(min_value=1, required=False)
    kind = serializers.CharField(max_length=20, required=False)
    wanted = serializers.IntegerField(min_value=1, max_value=10_000)
    lat = serializers.FloatField(min_value=-90, max_value=90)
    lon = serializers.FloatField(min_value=-180, max_value=180)
    starts_at = serializers.DateTimeField()
    ends_at = serializers.DateTimeField()

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if attrs["ends_at"] <= attrs["starts_at"]:
            raise serializers.ValidationError({"ends_at": ["The end lies before the start."]})
        if ("model_id" in attrs) == ("kind" in attrs):
            raise serializers.ValidationError({"model_id": ["Name a model, or a kind, and not both."]})
        return attrs


class SourcesView(UseCaseView):
    """The nearest sources for a need."""

    roles = READERS

    @reads(selectors.Source, many=True)
    def get(self, request: Request) -> Response:
        need = asked(Need, request)
        want = selectors.Want(need.pop("wanted"), need.pop("model_id", None), need.pop("kind", ""))
        found = selectors.where_can_i_get(area_id=area_of(request).pk, wants=(want,), now=timezone.now(), **need)
        return self.answer(found)


class ExpectedBy(serializers.Serializer[Any]):
    """Until when, and of which model; without a time, the next two days."""

    until = serializers.DateTimeField(required=False)
    model_id = serializers.IntegerField(required=False, min_value=1)


class ExpectedView(UseCaseView):
    """What is expected back by the drying forecast, or else when its promise ends; never certain."""

    roles = READERS

    @reads(selectors.Expected, many=True)
    def get(self, request: Request) -> Response:
        now = timezone.now()
        when = {"until": now + timedelta(days=2), **asked(ExpectedBy, request)}
        return self.answer(selectors.expected_back(**when, area_id=area_of(request).pk, now=now))


class AlarmsView(UseCaseView):
    """What must be looked at now."""

    roles = READERS

    @reads(selectors.AlarmView, many=True)
    def get(self, request: Request) -> Response:
        return self.answer(selectors.open_alarms(area_id=area_of(request).pk))


class DiscrepanciesView(UseCaseView):
    """Differences between record and floor that nobody has explained."""

    roles = READERS

    @reads(selectors.DiscrepancyView, many=True)
    def get(self, request: Request) -> Response:
        return self.answer(selectors.open_discrepancies(area_id=area_of(request).pk))


class CleaningView(UseCaseView):
    """What waits at a warehouse to be made ready, what is shortest first."""

    roles = READERS

    @reads(selectors.UnitRow, many=True)
    def get(self, request: Request, warehouse_id: int) -> Response:
        return self.answer(selectors.cleaning_queue(warehouse_id=warehouse_id, now=timezone.now()))
