"""The API of the crew lead's day. A lead reaches their own stops only; a manager reaches all."""

from typing import Any

from django.contrib.auth.models import User
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from dispatch.crew import late, loading, pages
from dispatch.models import Crew, Stop
from equipment import custody
from jobs import access, drying, stops
from jobs.api_base import UseCaseView, read, reads, writes
from jobs.drying_values import AirValue, MaterialValue
from jobs.log_api import AddPointIn
from jobs.models import AirReading, Visit
from jobs.people import signed_in
from jobs.refusals import NotThere


class StopNotYours(NotThere):
    """The stop is on no route of this lead; whether it exists is not said."""

    code = "stop_not_found"


def own_visit(user: User, visit_id: int) -> Visit:
    """
    The visit, if it is on the lead's own route (a manager's are all).

    :raises StopNotYours: otherwise.
    """
    found = Visit.objects.filter(pk=visit_id)
    if access.MANAGER not in access.roles_of(user):
        crew = pages.crew_now(user=user, now=timezone.now())
        found = found.filter(stop__crew=crew) if crew is not None else found.none()
    visit = found.first()
    if visit is None:
        raise StopNotYours("This stop is not on your route. Open your day again.")
    return visit


class MyDayView(UseCaseView):
    """The signed-in lead's route, in order."""

    roles = frozenset({access.CREW_LEAD})

    @reads(pages.DayPage)
    def get(self, request: Request) -> Response:
        day = pages.day_page(user=signed_in(request.user), now=timezone.now())
        if day is None:
            raise NotThere("You are on no crew in the next day.")
        return self.answer(day)


class HappenedIn(serializers.Serializer[Any]):
    """When it really happened, if that was earlier."""

    happened_at = serializers.DateTimeField(required=False)


class LeaveView(UseCaseView):
    """The crew leaves for the stop."""

    verbs = {"POST": "leave_for_stop"}

    @writes(HappenedIn, stops.StopState)
    def post(self, request: Request, visit_id: int) -> Response:
        own_visit(signed_in(request.user), visit_id)
        return self.answer(stops.leave_for_stop(visit_id=visit_id, **self.common(request), **read(HappenedIn, request)))


class LoadedView(UseCaseView):
    """What was to be fetched for the stop is aboard."""

    verbs = {"POST": "mark_loaded"}

    @writes(HappenedIn, loading.Loaded)
    def post(self, request: Request, visit_id: int) -> Response:
        own_visit(signed_in(request.user), visit_id)
        return self.answer(loading.mark_loaded(visit_id=visit_id, **self.common(request), **read(HappenedIn, request)))


class LateIn(HappenedIn):
    """By how many minutes the crew reaches the stop late."""

    minutes = serializers.IntegerField(min_value=1, max_value=late.MOST_MIN)


class LateView(UseCaseView):
    """The crew runs late; the stops that follow move and their customers are told."""

    verbs = {"POST": "run_late"}

    @writes(LateIn, late.Late)
    def post(self, request: Request, visit_id: int) -> Response:
        own_visit(signed_in(request.user), visit_id)
        return self.answer(late.run_late(visit_id=visit_id, **self.common(request), **read(LateIn, request)))


class ArriveView(UseCaseView):
    """The crew is at the door."""

    verbs = {"POST": "arrive_at_stop"}

    @writes(HappenedIn, stops.StopState)
    def post(self, request: Request, visit_id: int) -> Response:
        own_visit(signed_in(request.user), visit_id)
        return self.answer(stops.arrive_at_stop(visit_id=visit_id, **self.common(request), **read(HappenedIn, request)))


class FinishIn(HappenedIn):
    """What is to be remembered of the visit."""

    note = serializers.CharField(required=False, allow_blank=True, max_length=300)


class FinishView(UseCaseView):
    """The work of the stop is done."""

    verbs = {"POST": "finish_stop"}

    @writes(FinishIn, stops.StopState)
    def post(self, request: Request, visit_id: int) -> Response:
        own_visit(signed_in(request.user), visit_id)
        return self.answer(stops.finish_stop(visit_id=visit_id, **self.common(request), **read(FinishIn, request)))


class CannotWorkIn(HappenedIn):
    """Why the crew could not work, and who was told."""

    reason = serializers.CharField(max_length=200)
    told = serializers.CharField(required=False, allow_blank=True, max_length=120)
    new_time = serializers.DateTimeField(required=False)


class CannotWorkView(UseCaseView):
    """The crew could not work."""

    verbs = {"POST": "cannot_work"}

    @writes(CannotWorkIn, stops.StopState)
    def post(self, request: Request, visit_id: int) -> Response:
        own_visit(signed_in(request.user), visit_id)
        return self.answer(stops.cannot_work(visit_id=visit_id, **self.common(request), **read(CannotWorkIn, request)))


class UnitsIn(HappenedIn):
    """Unit numbers, as printed on them."""

    numbers = serializers.ListField(child=serializers.CharField(max_length=12), min_length=1, max_length=100)
    room_name = serializers.CharField(required=False, allow_blank=True, max_length=60)


class PlaceView(UseCaseView):
    """Units placed in a room."""

    verbs = {"POST": "place_units"}

    @writes(UnitsIn, custody.Scanned)
    def post(self, request: Request, visit_id: int) -> Response:
        visit, sent = own_visit(signed_in(request.user), visit_id), read(UnitsIn, request)
        placed = custody.place_units(
            job_id=visit.job_id,
            room_name=sent.get("room_name", ""),
            numbers=tuple(sent["numbers"]),
            vehicle_id=_crew_of(visit).vehicle_id,
            happened_at=sent.get("happened_at"),
            **self.common(request),
        )
        return self.answer(placed)


class TakeUpView(UseCaseView):
    """Units taken up onto the crew's vehicle."""

    verbs = {"POST": "take_up_units"}

    @writes(UnitsIn, custody.Scanned)
    def post(self, request: Request, visit_id: int) -> Response:
        visit, sent = own_visit(signed_in(request.user), visit_id), read(UnitsIn, request)
        taken = custody.take_up_units(
            job_id=visit.job_id,
            vehicle_id=_crew_of(visit).vehicle_id,
            numbers=tuple(sent["numbers"]),
            happened_at=sent.get("happened_at"),
            **self.common(request),
        )
        return self.answer(taken)


class PointsView(UseCaseView):
    """Mark a point at one's own stop."""

    verbs = {"POST": "add_point"}

    @writes(AddPointIn, drying.PointAdded, status=201)
    def post(self, request: Request, visit_id: int) -> Response:
        visit = own_visit(signed_in(request.user), visit_id)
        added = drying.add_point(job_id=visit.job_id, **self.common(request), **read(AddPointIn, request))
        return self.answer(added, status=201)


class AirIn(serializers.Serializer[Any]):
    """Temperature and humidity taken together."""

    where = serializers.ChoiceField(choices=AirReading.Where.choices)
    dry_bulb_f = serializers.FloatField(min_value=-40, max_value=200)
    rh_pct = serializers.FloatField(min_value=0, max_value=100)
    chamber = serializers.CharField(required=False, allow_blank=True, max_length=60)
    unit_number = serializers.CharField(required=False, allow_blank=True, max_length=12)


class MaterialIn(serializers.Serializer[Any]):
    """The value at the point of this number."""

    point = serializers.IntegerField(min_value=1)
    value = serializers.FloatField(min_value=0, max_value=10_000)


class ReadingsIn(serializers.Serializer[Any]):
    """One visit's readings; `confirmed` keeps values that were asked about."""

    air = AirIn(many=True, required=False)
    materials = MaterialIn(many=True, required=False)
    confirmed = serializers.BooleanField(required=False)


class ReadingsView(UseCaseView):
    """Keep a visit's readings."""

    verbs = {"POST": "record_readings"}

    @writes(ReadingsIn, drying.ReadingsRecorded, status=201)
    def post(self, request: Request, visit_id: int) -> Response:
        visit, sent = own_visit(signed_in(request.user), visit_id), read(ReadingsIn, request)
        kept = drying.record_readings(
            job_id=visit.job_id,
            visit_id=visit_id,
            air=tuple(AirValue(**row) for row in sent.get("air", [])),
            materials=tuple(MaterialValue(**row) for row in sent.get("materials", [])),
            confirmed=sent.get("confirmed", False),
            **self.common(request),
        )
        return self.answer(kept, status=201)


def _crew_of(visit: Visit) -> Crew:
    stop = Stop.objects.select_related("crew").filter(visit=visit).first()
    if stop is None:
        raise StopNotYours("This visit is on no route, so no vehicle is known. Plan it first.")
    return stop.crew
