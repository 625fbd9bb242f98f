"""Load lists, transfers, rented units, counts, and settling what must be looked at."""

from dataclasses import dataclass
from typing import Any

from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from equipment import alarms, custody, load_lists, selectors
from equipment.api.shared import READERS, Numbers, happened, whole_id
from jobs.api_base import UseCaseView, read, reads, writes


class LineIn(serializers.Serializer[Any]):
    """One line; stop order 1 is the first stop."""

    model_id = whole_id()
    job_id = whole_id(required=False, allow_null=True, default=None)
    reservation_id = whole_id(required=False, allow_null=True, default=None)
    stop_order = serializers.IntegerField(min_value=0, max_value=100, default=1)
    wanted = serializers.IntegerField(min_value=1, max_value=1_000)


class LoadListIn(serializers.Serializer[Any]):
    """What goes onto one vehicle before one departure."""

    vehicle_id = whole_id()
    warehouse_id = whole_id()
    departs_at = serializers.DateTimeField()
    crew_name = serializers.CharField(max_length=80, allow_blank=True)
    lines = LineIn(many=True, allow_empty=False)

    def validate_lines(self, value: list[dict[str, Any]]) -> tuple[load_lists.Line, ...]:
        names = ("model_id", "job_id", "reservation_id", "stop_order", "wanted")
        return tuple(tuple(row[name] for name in names) for row in value)  # type: ignore[misc]


class LoadListsView(UseCaseView):
    """Write a load list."""

    verbs = {"POST": "write_load_list"}

    @writes(LoadListIn, selectors.LoadListView, status=201)
    def post(self, request: Request) -> Response:
        written = load_lists.write_load_list(**self.common(request), **read(LoadListIn, request))
        return self.answer(selectors.load_list(written), status=201)


class LoadListView(UseCaseView):
    """One load list."""

    roles = READERS

    @reads(selectors.LoadListView)
    def get(self, request: Request, load_list_id: int) -> Response:
        return self.answer(selectors.load_list(load_list_id))


class CancelListView(UseCaseView):
    """A load list that is no longer wanted; what is loaded stays aboard."""

    verbs = {"POST": "cancel_load_list"}
    state_of = LoadListView

    @writes(None, selectors.LoadListView)
    def post(self, request: Request, load_list_id: int) -> Response:
        return self.answer(
            selectors.load_list(load_lists.cancel_load_list(**self.common(request), load_list_id=load_list_id))
        )


class DeparturesView(UseCaseView):
    """The load lists of a warehouse, by departure."""

    roles = READERS

    @reads(selectors.LoadListView, many=True)
    def get(self, request: Request, warehouse_id: int) -> Response:
        return self.answer(selectors.load_lists(warehouse_id=warehouse_id, now=timezone.now()))


class SendTransferIn(Numbers):
    """Units sent from one warehouse to another."""

    from_warehouse_id = whole_id()
    to_warehouse_id = whole_id()
    happened_at = happened()


class SendTransferView(UseCaseView):
    """Send units to another warehouse."""

    verbs = {"POST": "send_transfer"}

    @writes(SendTransferIn, custody.Scanned)
    def post(self, request: Request) -> Response:
        return self.answer(custody.send_transfer(**self.common(request), **read(SendTransferIn, request)))


class ReceiveTransferIn(Numbers):
    """Units received at a warehouse."""

    warehouse_id = whole_id()
    happened_at = happened()


class ReceiveTransferView(UseCaseView):
    """Receive units; what is still on the road is named."""

    verbs = {"POST": "receive_transfer"}

    @writes(ReceiveTransferIn, custody.Received)
    def post(self, request: Request) -> Response:
        return self.answer(custody.receive_transfer(**self.common(request), **read(ReceiveTransferIn, request)))


class CountIn(serializers.Serializer[Any]):
    """What was seen at a warehouse or aboard a vehicle."""

    numbers = serializers.ListField(child=serializers.CharField(max_length=20), min_length=1, max_length=200)
    warehouse_id = whole_id(required=False)
    vehicle_id = whole_id(required=False)
    whole_place = serializers.BooleanField(required=False)
    happened_at = happened()

    def validate_numbers(self, value: list[str]) -> tuple[str, ...]:
        return tuple(value)


class CountView(UseCaseView):
    """Count units at a place."""

    verbs = {"POST": "count_units"}

    @writes(CountIn, custody.Counted)
    def post(self, request: Request) -> Response:
        return self.answer(custody.count_units(**self.common(request), **read(CountIn, request)))


class SettleAlarmIn(serializers.Serializer[Any]):
    """What was done about it."""

    what_was_done = serializers.CharField(max_length=300)


@dataclass(frozen=True)
class Settled:
    """What was settled."""

    id: int


class SettleAlarmView(UseCaseView):
    """Say what was done about an alarm."""

    verbs = {"POST": "settle_alarm"}

    @writes(SettleAlarmIn, Settled)
    def post(self, request: Request, alarm_id: int) -> Response:
        values = read(SettleAlarmIn, request)
        return self.answer(Settled(alarms.settle_alarm(**self.common(request), alarm_id=alarm_id, **values)))


class SettleDiscrepancyIn(serializers.Serializer[Any]):
    """What had happened."""

    explanation = serializers.CharField(max_length=300)


class SettleDiscrepancyView(UseCaseView):
    """Explain a difference between record and floor."""

    verbs = {"POST": "settle_discrepancy"}

    @writes(SettleDiscrepancyIn, Settled)
    def post(self, request: Request, discrepancy_id: int) -> Response:
        values = read(SettleDiscrepancyIn, request)
        settled = custody.settle_discrepancy(**self.common(request), discrepancy_id=discrepancy_id, **values)
        return self.answer(Settled(settled))
