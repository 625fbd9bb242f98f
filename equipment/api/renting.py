"""Rented units, repair and service: what is rented, due and out; renting in, calling off, serviced, not found."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from equipment import custody, selectors, vehicles
from equipment.api.shared import READERS, Numbers, area_of, happened, whole_id
from equipment.selectors.service import DueForService, due_for_service
from equipment.service import Serviced, record_service
from jobs.api_base import UseCaseView, read, reads, writes


class RentedIn(serializers.Serializer[Any]):
    """One unit: our number, and the supplier's."""

    number = serializers.CharField(max_length=20)
    supplier_number = serializers.CharField(max_length=40)


class RentIn(serializers.Serializer[Any]):
    """Units that a supplier brought to a warehouse; `daily_cost` in dollars for each."""

    model_id = whole_id()
    warehouse_id = whole_id()
    supplier = serializers.CharField(max_length=80)
    daily_cost = serializers.FloatField(min_value=0, max_value=10_000)
    units = RentedIn(many=True, allow_empty=False)
    happened_at = happened()

    def validate_units(self, value: list[dict[str, str]]) -> tuple[tuple[str, str], ...]:
        return tuple((row["number"], row["supplier_number"]) for row in value)


@dataclass(frozen=True)
class RentalsNow:
    """What is rented, what all of it costs a day in dollars, and what was called off lately."""

    daily_cost: Decimal
    running: tuple[selectors.RentedUnit, ...]
    called_off: tuple[selectors.RentedUnit, ...]


class RentalsView(UseCaseView):
    """What is rented in an area; renting in."""

    roles = READERS
    verbs = {"POST": "rent_in"}

    @reads(RentalsNow)
    def get(self, request: Request) -> Response:
        found = selectors.rentals(area_id=area_of(request).pk, now=timezone.now())
        return self.answer(RentalsNow(found.daily_cost, found.running, found.called_off))

    @writes(RentIn, custody.Scanned, status=201)
    def post(self, request: Request) -> Response:
        return self.answer(custody.rent_in(**self.common(request), **read(RentIn, request)), status=201)


class CallOffIn(Numbers):
    """Rented units that go back, and the number by which the supplier took note of it."""

    call_off_number = serializers.CharField(max_length=40)
    happened_at = happened()


class CallOffView(UseCaseView):
    """Call rented units off; the charge ends when it was done."""

    verbs = {"POST": "call_off"}

    @writes(CallOffIn, custody.Scanned)
    def post(self, request: Request) -> Response:
        return self.answer(custody.call_off(**self.common(request), **read(CallOffIn, request)))


class ServiceIn(serializers.Serializer[Any]):
    """Which unit had its full service, and what its hour meter shows; without that, the newest reading counts."""

    number = serializers.CharField(max_length=20)
    hour_meter = serializers.FloatField(min_value=0, max_value=999_999, required=False)
    note = serializers.CharField(max_length=200, required=False, allow_blank=True)
    happened_at = happened()


class ServiceView(UseCaseView):
    """Record a service; the hours to the next one count from here."""

    verbs = {"POST": "record_service"}

    @writes(ServiceIn, Serviced)
    def post(self, request: Request) -> Response:
        return self.answer(record_service(**self.common(request), **read(ServiceIn, request)))


class ServiceDueView(UseCaseView):
    """The units of a warehouse that are due for service by their hour meters, the longest over first."""

    roles = READERS

    @reads(DueForService, many=True)
    def get(self, request: Request, warehouse_id: int) -> Response:
        return self.answer(due_for_service(warehouse_id=warehouse_id))


class RepairsView(UseCaseView):
    """Broken units at a warehouse, and those out with the repairer."""

    roles = READERS

    @reads(selectors.ToRepair, many=True)
    def get(self, request: Request, warehouse_id: int) -> Response:
        return self.answer(selectors.repairs(area_id=area_of(request).pk, warehouse_id=warehouse_id))


class NotFoundIn(Numbers):
    """Units that were looked for and are not there."""

    note = serializers.CharField(max_length=120, required=False, allow_blank=True)
    happened_at = happened()


class NotFoundView(UseCaseView):
    """Say that units were looked for and not found."""

    verbs = {"POST": "not_found"}

    @writes(NotFoundIn, custody.Scanned)
    def post(self, request: Request) -> Response:
        return self.answer(custody.not_found(**self.common(request), **read(NotFoundIn, request)))


class WorkshopIn(serializers.Serializer[Any]):
    """Whether the vehicle is in the workshop."""

    in_workshop = serializers.BooleanField()


class WorkshopView(UseCaseView):
    """Say that a vehicle is in the workshop, or back; while it is there, what is aboard counts for nothing."""

    verbs = {"POST": "change_vehicle"}

    @writes(WorkshopIn, vehicles.VehicleNow)
    def post(self, request: Request, vehicle_id: int) -> Response:
        values = read(WorkshopIn, request)
        return self.answer(vehicles.change_vehicle(**self.common(request), vehicle_id=vehicle_id, **values))
