"""What the views share: who may read, which area is meant, and the pieces that several bodies have."""

from datetime import datetime, timedelta
from typing import Any, cast

from django.contrib.auth.models import User
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request

from jobs import access
from jobs.models import Area
from jobs.refusals import NotThere, Unusable
from jobs.selectors import area_ids_of

READERS = frozenset({access.DISPATCHER, access.WAREHOUSE, access.MANAGER})

# The largest key that a database can hold.
LARGEST_ID = 2**63 - 1


def area_of(request: Request) -> Area:
    """
    The area named by `area` (its code), or the only one of the signed-in person.

    :raises Unusable: if the person has several and names none.
    :raises NotThere: if the person has no such area.
    """
    mine = area_ids_of(cast(User, request.user))
    rows = Area.objects.order_by("code")
    if mine is not None:
        rows = rows.filter(pk__in=mine)
    code = request.query_params.get("area")
    found = list(rows.filter(code=code) if code else rows[:2])
    if not found:
        raise NotThere("You have no such area. Ask your manager.", where="area")
    if len(found) > 1:
        raise Unusable("You have several areas. Name one as ?area=CODE.", where="area")
    return found[0]


def asked(shape: type[serializers.Serializer[Any]], request: Request) -> dict[str, Any]:
    """The query parameters, checked like a body."""
    checked = shape(data=request.query_params)
    checked.is_valid(raise_exception=True)
    return dict(checked.validated_data)


def whole_id(**more: Any) -> serializers.IntegerField:
    """The id of a row."""
    return serializers.IntegerField(min_value=1, max_value=LARGEST_ID, **more)


class Numbers(serializers.Serializer[Any]):
    """Unit numbers as they stand on the units."""

    numbers = serializers.ListField(
        child=serializers.CharField(max_length=20), min_length=1, max_length=200, allow_empty=False
    )

    def validate_numbers(self, value: list[str]) -> tuple[str, ...]:
        return tuple(value)


class HourMeter(serializers.Serializer[Any]):
    """One reading of an hour meter."""

    number = serializers.CharField(max_length=20)
    hours = serializers.FloatField(min_value=0, max_value=1_000_000)


def not_ahead(value: datetime) -> None:
    """A time that lies in the future is a wrong clock; a few minutes are none."""
    if value > timezone.now() + timedelta(minutes=10):
        raise serializers.ValidationError("This lies in the future. Check the device's clock.")
    if value.year < 2000:
        raise serializers.ValidationError("This lies before the year 2000. Check the device's clock.")


def happened() -> serializers.DateTimeField:
    """When it was really done; without a time, now."""
    return serializers.DateTimeField(required=False, validators=[not_ahead])


class Happened(Numbers):
    """Units and when it was really done; without a time, now."""

    happened_at = happened()
    hour_meters = HourMeter(many=True, required=False)

    def validate_hour_meters(self, value: list[dict[str, Any]]) -> tuple[tuple[str, float], ...]:
        return tuple((row["number"], row["hours"]) for row in value)
