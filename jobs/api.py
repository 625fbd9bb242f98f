"""The API of calls, jobs, visits, readings and places. Each write is one use case; each read is one selector."""

from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from jobs import access, drying_log, intake, selectors
from jobs.api_base import UseCaseView, read, reads, writes
from jobs.facts import AreaLine, CallFacts, JobFacts, JobLine, OpenCall
from jobs.models import Area, Call, Job
from jobs.people import signed_in
from jobs.places import Found, find
from jobs.refusals import NotThere

DESK = frozenset({access.DISPATCHER, access.MANAGER})


class AreasView(UseCaseView):
    """Service areas."""

    @reads(AreaLine, many=True)
    def get(self, request: Request) -> Response:
        return self.answer(selectors.areas())


class TakeCallIn(serializers.Serializer[Any]):
    """Nothing but the area is required; a number makes the call one that can be called back."""

    area_id = serializers.IntegerField(min_value=1)
    callback_number = serializers.CharField(required=False, allow_blank=True, max_length=40)


class CallsView(UseCaseView):
    """Calls that have not ended; beginning one."""

    verbs = {"POST": "take_call"}
    roles = DESK

    @reads(OpenCall, many=True)
    def get(self, request: Request) -> Response:
        return self.answer(selectors.open_calls(area_ids=selectors.area_ids_of(signed_in(request.user))))

    @writes(TakeCallIn, intake.CallTaken, status=201)
    def post(self, request: Request) -> Response:
        taken = intake.take_call(**self.common(request), **read(TakeCallIn, request))
        return self.answer(taken, status=201)


class CallView(UseCaseView):
    """One call with all that was answered, where it is, and what is still missing to send a crew."""

    roles = DESK

    @reads(CallFacts)
    def get(self, request: Request, call_id: int) -> Response:
        return self.answer(selectors.call_facts(call_id))


class AnswerCallIn(serializers.Serializer[Any]):
    """
    One field. `seen` is the version last seen of it, 0 for none.

    `field` is a field of the call, `rooms` for the whole list, or `room:ID:CELL` for one cell of one room.
    """

    field = serializers.CharField(max_length=80)
    value = serializers.JSONField(allow_null=True)
    seen = serializers.IntegerField(min_value=0)


class CallAnswersView(UseCaseView):
    """Save one field of a call."""

    verbs = {"POST": "answer_call"}
    state_of = CallView

    @writes(AnswerCallIn, intake.FieldSaved)
    def post(self, request: Request, call_id: int) -> Response:
        sent = read(AnswerCallIn, request)
        return self.answer(intake.answer_call(**self.common(request), call_id=call_id, **sent))


class EndCallIn(serializers.Serializer[Any]):
    """How the call ends: `no_crew` with a reason, or `known_job` with the job."""

    ended_as = serializers.ChoiceField(choices=[Call.EndedAs.NO_CREW, Call.EndedAs.KNOWN_JOB])
    reason = serializers.CharField(required=False, allow_blank=True, max_length=300)
    job_id = serializers.IntegerField(required=False, min_value=1)


class EndCallView(UseCaseView):
    """End a call without sending a crew."""

    verbs = {"POST": "end_call"}
    state_of = CallView

    @writes(EndCallIn, intake.CallEnded)
    def post(self, request: Request, call_id: int) -> Response:
        sent = read(EndCallIn, request)
        return self.answer(intake.end_call(**self.common(request), call_id=call_id, **sent))


class JobsIn(serializers.Serializer[Any]):
    """Which jobs: by stage (several with commas; open ones without) and by area."""

    stage = serializers.CharField(required=False, help_text=f"Any of: {', '.join(Job.Stage.values)}.")
    area = serializers.SlugField(required=False, help_text="An area's code.")
    limit = serializers.IntegerField(required=False, min_value=1)
    offset = serializers.IntegerField(required=False, min_value=0)

    def validate_stage(self, value: str) -> tuple[str, ...]:
        stages = tuple(part.strip() for part in value.split(",") if part.strip())
        if unknown := [stage for stage in stages if stage not in Job.Stage.values]:
            raise serializers.ValidationError(
                f"There is no stage {', '.join(unknown)}. Stages are: {', '.join(Job.Stage.values)}."
            )
        return stages


class JobsView(UseCaseView):
    """Jobs, newest first."""

    roles = DESK

    @reads(JobLine, counted=True, operation_id="jobs_list", parameters=[JobsIn])
    def get(self, request: Request) -> Response:
        asked = JobsIn(data=request.query_params)
        asked.is_valid(raise_exception=True)
        areas = selectors.area_ids_of(signed_in(request.user))
        if code := asked.validated_data.get("area"):
            area = Area.objects.filter(code=code).first()
            if area is None or (areas is not None and area.pk not in areas):
                raise NotThere(f"There is no area {code!r} for you. See /api/v1/areas.", where="area")
            areas = frozenset({area.pk})
        stages = asked.validated_data.get("stage") or selectors.OPEN_STAGES
        return self.page(selectors.jobs(stages=stages, area_ids=areas), JobLine, request)


class JobView(UseCaseView):
    """One job without its private facts."""

    roles = DESK

    @reads(JobFacts)
    def get(self, request: Request, job_id: int) -> Response:
        return self.answer(selectors.job_facts(job_id))


class DryingLogView(UseCaseView):
    """The drying log of a job: points with yesterday beside today, and air with grains per pound."""

    roles = DESK

    @reads(drying_log.DryingLog)
    def get(self, request: Request, job_id: int) -> Response:
        selectors.job_facts(job_id)
        return self.answer(drying_log.drying_log(job_id))


class PlacesIn(serializers.Serializer[Any]):
    """What was said of the place."""

    zip = serializers.CharField(required=False, max_length=10)
    town = serializers.CharField(required=False, max_length=60)
    state = serializers.CharField(required=False, max_length=2)
    lat = serializers.FloatField(required=False, min_value=-90, max_value=90)
    lon = serializers.FloatField(required=False, min_value=-180, max_value=180)


class PlacesView(UseCaseView):
    """Town, state, county, time zone and a coarse point, found offline; or the places between which to ask."""

    roles = DESK

    @reads(Found, parameters=[PlacesIn])
    def get(self, request: Request) -> Response:
        asked = PlacesIn(data=request.query_params)
        asked.is_valid(raise_exception=True)
        said = asked.validated_data
        point = (said["lat"], said["lon"]) if "lat" in said and "lon" in said else None
        found = find(
            zip_code=said.get("zip", ""), town=said.get("town", ""), state=said.get("state", "").upper(), point=point
        )
        return self.answer(found)
