"""Counts by model, from the phone of whoever loads at night; their numbers, when they are known."""

from dataclasses import dataclass
from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from equipment import fast_counts
from equipment.api.shared import Numbers, happened, whole_id
from jobs.api_base import UseCaseView, read, writes


class CountByModelIn(serializers.Serializer[Any]):
    """So many units of a model, taken at a warehouse onto a vehicle."""

    warehouse_id = whole_id()
    vehicle_id = whole_id()
    model_id = whole_id()
    quantity = serializers.IntegerField(min_value=1, max_value=fast_counts.MOST)
    note = serializers.CharField(max_length=120, required=False, allow_blank=True)
    happened_at = happened()


@dataclass(frozen=True)
class CountedByModel:
    """The count that awaits its numbers."""

    fast_count_id: int


class CountByModelView(UseCaseView):
    """Count by model now, give the numbers later."""

    verbs = {"POST": "count_by_model"}

    @writes(CountByModelIn, CountedByModel, status=201)
    def post(self, request: Request) -> Response:
        counted = fast_counts.count_by_model(**self.common(request), **read(CountByModelIn, request))
        return self.answer(CountedByModel(counted), status=201)


class CountNumbersView(UseCaseView):
    """Give numbers of a count by model."""

    verbs = {"POST": "name_fast_count"}

    @writes(Numbers, fast_counts.Named)
    def post(self, request: Request, fast_count_id: int) -> Response:
        values = read(Numbers, request)
        return self.answer(fast_counts.name_fast_count(**self.common(request), fast_count_id=fast_count_id, **values))


class TakeBackIn(serializers.Serializer[Any]):
    """A number that does not belong to the count."""

    number = serializers.CharField(max_length=20)


@dataclass(frozen=True)
class NumbersGiven:
    """How many numbers the count has now."""

    given: int


class TakeBackView(UseCaseView):
    """Take a number back from a count by model."""

    verbs = {"POST": "take_back_number"}

    @writes(TakeBackIn, NumbersGiven)
    def post(self, request: Request, fast_count_id: int) -> Response:
        values = read(TakeBackIn, request)
        left = fast_counts.take_back_number(**self.common(request), fast_count_id=fast_count_id, **values)
        return self.answer(NumbersGiven(left))


class ExplainCountIn(serializers.Serializer[Any]):
    """Why the numbers will not come."""

    explanation = serializers.CharField(max_length=300)


class ExplainCountView(UseCaseView):
    """Settle a count whose numbers will not come."""

    verbs = {"POST": "explain_fast_count"}

    @writes(ExplainCountIn, CountedByModel)
    def post(self, request: Request, fast_count_id: int) -> Response:
        values = read(ExplainCountIn, request)
        settled = fast_counts.explain_fast_count(**self.common(request), fast_count_id=fast_count_id, **values)
        return self.answer(CountedByModel(settled))
