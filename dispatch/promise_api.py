"""The API of promises (what runs, what ended how, done, agreed for another time) and of several callers of one loss."""

from typing import Any

from django.shortcuts import get_object_or_404
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from dispatch import merging, other_day
from jobs import access, clock_board, clocks, joining, urgency_words
from jobs.api import CallView, JobView
from jobs.api_base import UseCaseView, read, reads, writes
from jobs.models import Area, Job

DESK = frozenset({access.DISPATCHER, access.MANAGER})


class PromisesView(UseCaseView):
    """The clocks of an area that have no end: every late one, and the next that fall due."""

    roles = DESK

    @reads(clock_board.Clocks)
    def get(self, request: Request, area: str) -> Response:
        found = get_object_or_404(Area, code=area)
        return self.answer(clock_board.running_clocks(area_id=found.pk, zone=found.zone, now=timezone.now()))


class JobPromisesView(UseCaseView):
    """How the promises of a job ended, oldest first."""

    roles = DESK

    @reads(clock_board.PastClock, many=True)
    def get(self, request: Request, job_id: int) -> Response:
        return self.answer(clock_board.past_clocks(get_object_or_404(Job, pk=job_id).pk))


class MeetIn(serializers.Serializer[Any]):
    """When it happened (now without it), and when a waiting caller hears from us next."""

    happened_at = serializers.DateTimeField(required=False)
    next_contact_at = serializers.DateTimeField(required=False)


class MeetView(UseCaseView):
    """Record that a caller was called back, or a report was given."""

    verbs = {"POST": "meet_promise"}

    @writes(MeetIn, clocks.ClockEnded)
    def post(self, request: Request, promise_id: int) -> Response:
        met = clocks.meet_promise(promise_id=promise_id, **self.common(request), **read(MeetIn, request))
        return self.answer(met)


class AgreeIn(serializers.Serializer[Any]):
    """The new time, and with whom it was agreed."""

    new_due_at = serializers.DateTimeField()
    with_whom = serializers.CharField(allow_blank=True, max_length=120)


class AgreeView(UseCaseView):
    """Agree another time with somebody."""

    verbs = {"POST": "agree_another_time"}

    @writes(AgreeIn, clocks.ClockEnded)
    def post(self, request: Request, promise_id: int) -> Response:
        agreed = other_day.agree_another_time(promise_id=promise_id, **self.common(request), **read(AgreeIn, request))
        return self.answer(agreed)


class JoinIn(serializers.Serializer[Any]):
    """The job that the call is about."""

    job_id = serializers.IntegerField(min_value=1)


class JoinView(UseCaseView):
    """End a call as one about a known job; its caller becomes one of the job's people."""

    verbs = {"POST": "join_caller"}
    state_of = CallView

    @writes(JoinIn, joining.CallerJoined)
    def post(self, request: Request, call_id: int) -> Response:
        return self.answer(joining.join_caller(call_id=call_id, **self.common(request), **read(JoinIn, request)))


class SplitView(UseCaseView):
    """Take a joined call off its job again."""

    verbs = {"POST": "split_caller"}
    state_of = CallView

    @writes(None, joining.CallerSplit)
    def post(self, request: Request, call_id: int) -> Response:
        return self.answer(joining.split_caller(call_id=call_id, **self.common(request)))


class MergeIn(serializers.Serializer[Any]):
    """The job of the same loss that goes on with everything."""

    into_job_id = serializers.IntegerField(min_value=1)


class MergeView(UseCaseView):
    """End a job as joined to another one of the same loss."""

    verbs = {"POST": "merge_jobs"}
    state_of = JobView

    @writes(MergeIn, merging.JobsMerged)
    def post(self, request: Request, job_id: int) -> Response:
        return self.answer(merging.merge_jobs(job_id=job_id, **self.common(request), **read(MergeIn, request)))


class SplitJobView(UseCaseView):
    """Open a joined job again with what it brought."""

    verbs = {"POST": "split_jobs"}
    state_of = JobView

    @writes(None, merging.JobsSplit)
    def post(self, request: Request, job_id: int) -> Response:
        return self.answer(merging.split_jobs(job_id=job_id, **self.common(request)))


class UrgencyIn(serializers.Serializer[Any]):
    """The level in our words, and why."""

    level = serializers.CharField(max_length=30)
    reason = serializers.CharField(allow_blank=True, max_length=200)


class UrgencyView(UseCaseView):
    """A manager's word on a call's urgency."""

    verbs = {"POST": "set_urgency"}
    state_of = CallView

    @writes(UrgencyIn, urgency_words.UrgencySaid)
    def post(self, request: Request, call_id: int) -> Response:
        said = urgency_words.set_urgency(call_id=call_id, **self.common(request), **read(UrgencyIn, request))
        return self.answer(said)
