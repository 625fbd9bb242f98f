"""The daily counting list, a whole vehicle against its record, transfers, returns and what was left behind."""

from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from equipment import selectors
from equipment.api.shared import READERS, area_of, asked
from equipment.count_lists import draw_count_list
from equipment.models import Warehouse
from jobs.api_base import UseCaseView, reads, writes
from jobs.refusals import NotThere

UNSEEN = timedelta(days=7)


class CountListView(UseCaseView):
    """Today's counting list of a warehouse; POST draws it, once a day."""

    roles = READERS
    verbs = {"POST": "draw_count_list"}

    @reads(selectors.CountListView)
    def get(self, request: Request, warehouse_id: int) -> Response:
        return self.answer(_today(warehouse_id))

    @writes(None, selectors.CountListView)
    def post(self, request: Request, warehouse_id: int) -> Response:
        draw_count_list(**self.common(request), warehouse_id=warehouse_id)
        return self.answer(_today(warehouse_id))


def _today(warehouse_id: int) -> selectors.CountListView:
    warehouse = Warehouse.objects.select_related("area").filter(pk=warehouse_id).first()
    if warehouse is None:
        raise NotThere(f"There is no warehouse {warehouse_id}. Choose one from the list.", where="warehouse_id")
    day = timezone.now().astimezone(warehouse.area.zone).date()
    drawn = selectors.count_list(warehouse_id=warehouse_id, day=day)
    if drawn is None:
        raise NotThere("Today's list was not drawn yet. POST here to draw it.")
    return drawn


class Began(serializers.Serializer[Any]):
    """When the count of the vehicle began; what was seen since then is counted."""

    began_at = serializers.DateTimeField()


class VehicleCountView(UseCaseView):
    """What the record has aboard a vehicle, and which of it was seen since the count began."""

    roles = READERS

    @reads(selectors.VehicleCount)
    def get(self, request: Request, vehicle_id: int) -> Response:
        return self.answer(selectors.vehicle_count(vehicle_id=vehicle_id, **asked(Began, request)))


class FastCountsView(UseCaseView):
    """The counts by model of a warehouse that still await their numbers, the oldest first."""

    roles = READERS

    @reads(selectors.FastCountView, many=True)
    def get(self, request: Request, warehouse_id: int) -> Response:
        return self.answer(selectors.fast_counts(warehouse_id=warehouse_id))


class RoadView(UseCaseView):
    """What is on the road to a warehouse, and what was sent from it and not yet received."""

    roles = READERS

    @reads(selectors.Road)
    def get(self, request: Request, warehouse_id: int) -> Response:
        return self.answer(selectors.on_the_road(warehouse_id=warehouse_id, now=timezone.now()))


class ReturnsView(UseCaseView):
    """What came back to a warehouse lately, against what the jobs should give back."""

    roles = READERS

    @reads(selectors.JobReturns, many=True)
    def get(self, request: Request, warehouse_id: int) -> Response:
        return self.answer(selectors.recent_returns(warehouse_id=warehouse_id, now=timezone.now()))


@dataclass(frozen=True)
class LeftBehind:
    """Units listed at finished jobs, and units that nobody has seen for seven days; the longest first of each."""

    at_finished_jobs: tuple[selectors.UnitRow, ...]
    unseen: tuple[selectors.UnitRow, ...]


class LeftBehindView(UseCaseView):
    """Units of an area that somebody should fetch or look for."""

    roles = READERS

    @reads(LeftBehind)
    def get(self, request: Request) -> Response:
        area_id = area_of(request).pk
        found = LeftBehind(
            selectors.units_at_finished_jobs(area_id=area_id),
            selectors.not_seen_since(area_id=area_id, before=timezone.now() - UNSEEN),
        )
        return self.answer(found)


class AboardView(UseCaseView):
    """What is aboard each vehicle of an area by the record: live stock, not standing stock."""

    roles = READERS

    @reads(selectors.Aboard, many=True)
    def get(self, request: Request) -> Response:
        return self.answer(selectors.aboard(area_id=area_of(request).pk))
