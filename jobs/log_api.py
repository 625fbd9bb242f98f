"""The API of what happens at a job: visits, readings, signatures, the lead's word."""

from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from jobs import access, drying, leads_word, opening, selectors, visits
from jobs.api import DryingLogView, JobView
from jobs.api_base import UseCaseView, read, reads, writes
from jobs.drying_values import AirValue, MaterialValue
from jobs.facts import JournalLine, VisitLine
from jobs.models import AirReading, Visit

DESK = frozenset({access.DISPATCHER, access.MANAGER})
# What a lead does on site goes through the stops of their own route, which only dispatch knows.


class AddVisitIn(serializers.Serializer[Any]):
    """A visit; a window is promised to the customer and has both ends."""

    kind = serializers.ChoiceField(choices=Visit.Kind.choices)
    due_on = serializers.DateField()
    window_from = serializers.DateTimeField(required=False)
    window_until = serializers.DateTimeField(required=False)
    due_at = serializers.DateTimeField(required=False)
    service_s = serializers.IntegerField(required=False, min_value=0, max_value=86_400)
    note = serializers.CharField(required=False, allow_blank=True, max_length=300)


class VisitsView(UseCaseView):
    """A job's visits; adding one."""

    verbs = {"POST": "add_visit"}
    roles = DESK

    @reads(VisitLine, many=True)
    def get(self, request: Request, job_id: int) -> Response:
        return self.answer(selectors.visits_of(job_id))

    @writes(AddVisitIn, visits.VisitAdded, status=201)
    def post(self, request: Request, job_id: int) -> Response:
        added = visits.add_visit(**self.common(request), job_id=job_id, **read(AddVisitIn, request))
        return self.answer(added, status=201)


class MissVisitIn(serializers.Serializer[Any]):
    """Why, who was told, and when instead."""

    reason = serializers.CharField(max_length=300, allow_blank=True)
    told = serializers.CharField(max_length=120, allow_blank=True)
    new_time = serializers.DateTimeField()


class MissVisitView(UseCaseView):
    """Record that a visit will not happen."""

    verbs = {"POST": "miss_visit"}
    writers = DESK

    @writes(MissVisitIn, visits.VisitMissed)
    def post(self, request: Request, visit_id: int) -> Response:
        return self.answer(visits.miss_visit(**self.common(request), visit_id=visit_id, **read(MissVisitIn, request)))


class AddPointIn(serializers.Serializer[Any]):
    """A marked point; `dry_standard` and `goal` in the meter's scale."""

    room_name = serializers.CharField(max_length=60)
    place = serializers.CharField(required=False, allow_blank=True, max_length=80)
    material = serializers.CharField(max_length=30)
    meter = serializers.CharField(max_length=40)
    scale = serializers.CharField(max_length=20)
    dry_standard = serializers.FloatField()
    goal = serializers.FloatField()
    number = serializers.IntegerField(required=False, min_value=1, max_value=999)


class PointsView(UseCaseView):
    """Mark a point."""

    verbs = {"POST": "add_point"}
    state_of = DryingLogView
    writers = DESK

    @writes(AddPointIn, drying.PointAdded, status=201)
    def post(self, request: Request, job_id: int) -> Response:
        added = drying.add_point(**self.common(request), job_id=job_id, **read(AddPointIn, request))
        return self.answer(added, status=201)


class AirReadingIn(serializers.Serializer[Any]):
    """Air in °F and % together."""

    where = serializers.ChoiceField(choices=AirReading.Where.choices)
    dry_bulb_f = serializers.FloatField()
    rh_pct = serializers.FloatField()
    chamber = serializers.CharField(required=False, allow_blank=True, max_length=60)
    unit_number = serializers.CharField(required=False, allow_blank=True, max_length=12)
    taken_at = serializers.DateTimeField(required=False)


class MaterialReadingIn(serializers.Serializer[Any]):
    """One meter value at the point of this number."""

    point = serializers.IntegerField(min_value=1)
    value = serializers.FloatField()
    taken_at = serializers.DateTimeField(required=False)


class JobReadingsIn(serializers.Serializer[Any]):
    """The readings of one visit; `confirmed` keeps values that look wrong by ten."""

    visit_id = serializers.IntegerField(required=False, allow_null=True, min_value=1, default=None)
    air = AirReadingIn(many=True, required=False)
    materials = MaterialReadingIn(many=True, required=False)
    confirmed = serializers.BooleanField(required=False, default=False)


class ReadingsView(UseCaseView):
    """Keep readings."""

    verbs = {"POST": "record_readings"}
    state_of = DryingLogView
    writers = DESK

    @writes(JobReadingsIn, drying.ReadingsRecorded, status=201)
    def post(self, request: Request, job_id: int) -> Response:
        sent = read(JobReadingsIn, request)
        recorded = drying.record_readings(
            **self.common(request),
            job_id=job_id,
            visit_id=sent["visit_id"],
            air=tuple(AirValue(**row) for row in sent.get("air", ())),
            materials=tuple(MaterialValue(**row) for row in sent.get("materials", ())),
            confirmed=sent["confirmed"],
        )
        return self.answer(recorded, status=201)


class CorrectReadingIn(serializers.Serializer[Any]):
    """What the instrument really showed, and why it is corrected."""

    reason = serializers.CharField(max_length=300, allow_blank=True)
    value = serializers.FloatField(required=False)
    dry_bulb_f = serializers.FloatField(required=False)
    rh_pct = serializers.FloatField(required=False)


class CorrectReadingView(UseCaseView):
    """Put a new row in the place of a reading; the old one stays."""

    verbs = {"POST": "correct_reading"}
    writers = DESK

    @writes(CorrectReadingIn, drying.ReadingCorrected)
    def post(self, request: Request, kind: str, reading_id: int) -> Response:
        sent = read(CorrectReadingIn, request)
        corrected = drying.correct_reading(**self.common(request), kind=kind, reading_id=reading_id, **sent)
        return self.answer(corrected)


class AuthorizeIn(serializers.Serializer[Any]):
    """Within which limits the work was signed for."""

    limits = serializers.CharField(required=False, allow_blank=True, max_length=300)


class AuthorizeView(UseCaseView):
    """Record a signature."""

    verbs = {"POST": "authorize_job"}
    state_of = JobView
    writers = DESK

    @writes(AuthorizeIn, opening.Authorized)
    def post(self, request: Request, job_id: int) -> Response:
        return self.answer(opening.authorize_job(**self.common(request), job_id=job_id, **read(AuthorizeIn, request)))


class LeadsWordIn(serializers.Serializer[Any]):
    """A topic (`category`, `class:CHAMBER`, or another), the lead's word on it, and why."""

    topic = serializers.CharField(max_length=leads_word.MOST_TOPIC_LETTERS)
    word = serializers.JSONField()
    suggestion = serializers.JSONField(required=False, allow_null=True)
    reason = serializers.CharField(max_length=300, allow_blank=True)


class LeadsWordView(UseCaseView):
    """Keep the lead's word beside the suggestion."""

    verbs = {"POST": "set_leads_word"}
    state_of = JobView
    writers = DESK

    @writes(LeadsWordIn, leads_word.WordKept, status=201)
    def post(self, request: Request, job_id: int) -> Response:
        kept = leads_word.set_leads_word(**self.common(request), job_id=job_id, **read(LeadsWordIn, request))
        return self.answer(kept, status=201)


class JournalView(UseCaseView):
    """What happened at a job, in order."""

    roles = DESK

    @reads(JournalLine, many=True)
    def get(self, request: Request, job_id: int) -> Response:
        return self.answer(selectors.journal_of(job_id))
