"""Counted accessories and consumables: what is where, taking, adding, moving, counting, the least there should be."""

from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from equipment import counted, places
from equipment.api.shared import READERS, asked, happened, whole_id
from equipment.selectors.counted import CountedRow, counted_at
from jobs import access
from jobs.api_base import UseCaseView, read, reads, writes


class WhereIn(serializers.Serializer[Any]):
    """One warehouse or one vehicle."""

    warehouse_id = whole_id(required=False)
    vehicle_id = whole_id(required=False)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if ("warehouse_id" in attrs) == ("vehicle_id" in attrs):
            raise serializers.ValidationError({"warehouse_id": ["Name a warehouse or a vehicle, and not both."]})
        return attrs


class ItemIn(WhereIn):
    """So many of one item at one place, and when it was done; without a time, now."""

    item = serializers.CharField(max_length=60)
    quantity = serializers.IntegerField(min_value=1, max_value=counted.MOST)
    happened_at = happened()


class NewItemIn(ItemIn):
    """An item that may not have been kept there before."""

    unit_word = serializers.CharField(max_length=20, required=False)


class TakenIn(ItemIn):
    """So many used, perhaps at a job."""

    job_id = whole_id(required=False)


class MovedIn(serializers.Serializer[Any]):
    """So many of one item from one place to another."""

    origin = WhereIn()
    to = WhereIn()
    item = serializers.CharField(max_length=60)
    quantity = serializers.IntegerField(min_value=1, max_value=counted.MOST)
    happened_at = happened()


class ItemCountIn(serializers.Serializer[Any]):
    """How many of one item there really are."""

    item = serializers.CharField(max_length=60)
    quantity = serializers.IntegerField(min_value=0, max_value=counted.MOST)


class ItemCountsIn(WhereIn):
    """What was counted at one place."""

    counts = ItemCountIn(many=True, allow_empty=False)
    happened_at = happened()

    def validate_counts(self, value: list[dict[str, Any]]) -> tuple[tuple[str, int], ...]:
        return tuple((row["item"], row["quantity"]) for row in value)


class LeastIn(WhereIn):
    """How many of one item there should be at least."""

    item = serializers.CharField(max_length=60)
    minimum = serializers.IntegerField(min_value=0, max_value=counted.MOST)


def holder_id(place: dict[str, Any]) -> int:
    """
    The holder of a warehouse or a vehicle, taken out of what was sent.

    :raises NotThere: if there is no such place.
    """
    warehouse_id, vehicle_id = place.pop("warehouse_id", None), place.pop("vehicle_id", None)
    if warehouse_id is not None:
        return places.holder_for_warehouse(warehouse_id).pk
    return places.holder_for_vehicle(vehicle_id).pk


class CountedView(UseCaseView):
    """What is counted at a warehouse or aboard a vehicle, what is short first."""

    roles = READERS | {access.CREW_LEAD}

    @reads(CountedRow, many=True)
    def get(self, request: Request) -> Response:
        return self.answer(counted_at(**asked(WhereIn, request)))


class TakeCountedView(UseCaseView):
    """Take items away to be used."""

    verbs = {"POST": "take_counted"}

    @writes(TakenIn, counted.CountedNow)
    def post(self, request: Request) -> Response:
        values = read(TakenIn, request)
        return self.answer(counted.take_counted(**self.common(request), place_id=holder_id(values), **values))


class AddCountedView(UseCaseView):
    """Put items there: bought, or brought back."""

    verbs = {"POST": "add_counted"}

    @writes(NewItemIn, counted.CountedNow)
    def post(self, request: Request) -> Response:
        values = read(NewItemIn, request)
        return self.answer(counted.add_counted(**self.common(request), place_id=holder_id(values), **values))


class MoveCountedView(UseCaseView):
    """Move items between a warehouse and a vehicle."""

    verbs = {"POST": "move_counted"}

    @writes(MovedIn, counted.CountedNow, many=True)
    def post(self, request: Request) -> Response:
        values = read(MovedIn, request)
        values["from_place_id"], values["to_place_id"] = holder_id(values.pop("origin")), holder_id(values.pop("to"))
        return self.answer(counted.move_counted(**self.common(request), **values))


class CountCountedView(UseCaseView):
    """Say how many there really are."""

    verbs = {"POST": "count_counted"}

    @writes(ItemCountsIn, counted.CountedNow, many=True)
    def post(self, request: Request) -> Response:
        values = read(ItemCountsIn, request)
        return self.answer(counted.count_counted(**self.common(request), place_id=holder_id(values), **values))


class LeastCountedView(UseCaseView):
    """Say how many there should be at least; below that the desk is told."""

    verbs = {"POST": "set_counted_minimum"}

    @writes(LeastIn, counted.CountedNow)
    def post(self, request: Request) -> Response:
        values = read(LeastIn, request)
        return self.answer(counted.set_counted_minimum(**self.common(request), place_id=holder_id(values), **values))
