"""The API of counting, hour meters and the power plan at a stop of one's own route."""

from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from dispatch.crew.api import HappenedIn, own_visit
from equipment.on_site.counts import SiteCounted, SiteCountLine, count_at_job, counts_of
from equipment.on_site.meters import MeterLine, MetersRead, MeterValue, meters_of, read_meters
from equipment.on_site.power import PlanCircuit, PowerShown, keep_power_plan, power_at
from jobs import access
from jobs.api_base import UseCaseView, read, reads, writes
from jobs.people import signed_in
from jobs.refusals import NotThere

FIELD = frozenset({access.CREW_LEAD, access.MANAGER})


class SiteCountIn(HappenedIn):
    """How many units are seen, or the numbers of those that are not."""

    seen = serializers.IntegerField(required=False, min_value=0, max_value=500)
    missing = serializers.ListField(child=serializers.CharField(max_length=12), required=False, max_length=200)


class StopCountsView(UseCaseView):
    """Counts at the stop's job; saying how many units are seen."""

    verbs = {"POST": "count_at_job"}
    roles = FIELD

    @reads(SiteCountLine, many=True)
    def get(self, request: Request, visit_id: int) -> Response:
        return self.answer(counts_of(own_visit(signed_in(request.user), visit_id).job_id))

    @writes(SiteCountIn, SiteCounted, status=201)
    def post(self, request: Request, visit_id: int) -> Response:
        visit, sent = own_visit(signed_in(request.user), visit_id), read(SiteCountIn, request)
        sent["missing"] = tuple(sent.get("missing", ()))
        counted = count_at_job(job_id=visit.job_id, visit_id=visit_id, **self.common(request), **sent)
        return self.answer(counted, status=201)


class MeterIn(serializers.Serializer[Any]):
    """What one unit's hour meter shows; the reason where it did not run."""

    number = serializers.CharField(max_length=12)
    hours = serializers.FloatField(min_value=0)
    reason = serializers.CharField(required=False, allow_blank=True, max_length=200)


class MetersIn(HappenedIn):
    """Hour meters; `confirmed` keeps missing hours without a reason."""

    meters = MeterIn(many=True)
    confirmed = serializers.BooleanField(required=False)


class StopMetersView(UseCaseView):
    """Hour meters at the stop's job with the hours that ran; reading them."""

    verbs = {"POST": "read_meters"}
    roles = FIELD

    @reads(MeterLine, many=True)
    def get(self, request: Request, visit_id: int) -> Response:
        return self.answer(meters_of(own_visit(signed_in(request.user), visit_id).job_id))

    @writes(MetersIn, MetersRead, status=201)
    def post(self, request: Request, visit_id: int) -> Response:
        visit, sent = own_visit(signed_in(request.user), visit_id), read(MetersIn, request)
        sent["meters"] = tuple(MeterValue(**row) for row in sent["meters"])
        done = read_meters(job_id=visit.job_id, visit_id=visit_id, **self.common(request), **sent)
        return self.answer(done, status=201)


class CircuitIn(serializers.Serializer[Any]):
    """One circuit, in amps; `reserved_a` is what others draw on it."""

    name = serializers.CharField(max_length=40)
    breaker_a = serializers.FloatField(min_value=0, max_value=100)
    reserved_a = serializers.FloatField(required=False, min_value=0, max_value=100)


class PlugIn(serializers.Serializer[Any]):
    """A unit on a circuit, counted from 1."""

    number = serializers.CharField(max_length=12)
    circuit = serializers.IntegerField(min_value=1)


class PowerIn(HappenedIn):
    """The lead's circuits, and where units are plugged in; without places the suggestion is kept."""

    circuits = CircuitIn(many=True)
    places = PlugIn(many=True, required=False)


class StopPowerView(UseCaseView):
    """The power plan at the stop; keeping one."""

    verbs = {"POST": "keep_power_plan"}
    roles = FIELD

    @reads(PowerShown)
    def get(self, request: Request, visit_id: int) -> Response:
        plan = power_at(own_visit(signed_in(request.user), visit_id).job_id)
        if plan is None:
            raise NotThere("No power plan is kept for this job. Post the circuits to make one.")
        return self.answer(plan)

    @writes(PowerIn, PowerShown, status=201)
    def post(self, request: Request, visit_id: int) -> Response:
        visit, sent = own_visit(signed_in(request.user), visit_id), read(PowerIn, request)
        kept = keep_power_plan(
            job_id=visit.job_id,
            visit_id=visit_id,
            circuits=tuple(PlanCircuit(**row) for row in sent["circuits"]),
            places=tuple((row["number"], row["circuit"]) for row in sent.get("places", [])),
            happened_at=sent.get("happened_at"),
            **self.common(request),
        )
        return self.answer(kept, status=201)
