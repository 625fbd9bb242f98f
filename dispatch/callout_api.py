"""The API of people on call: releasing a tired lead, what became of messages, and how somebody is reached."""

from typing import Any

from django.shortcuts import get_object_or_404
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from dispatch import presence, reaching, releasing
from dispatch.desk import notice_pages, release_pages
from jobs import access
from jobs.api_base import UseCaseView, read, reads, writes
from jobs.models import Area, WaysToReach
from jobs.people import signed_in

DESK = frozenset({access.DISPATCHER, access.MANAGER})


class LeadReleaseIn(serializers.Serializer[Any]):
    """Until when they rest (the rule's hours off, if left out), and why."""

    until = serializers.DateTimeField(required=False)
    reason = serializers.CharField(required=False, allow_blank=True, max_length=120)


class ReleaseView(UseCaseView):
    """Release a lead: their stops go to others."""

    verbs = {"POST": "release_lead"}

    @writes(LeadReleaseIn, releasing.Released)
    def post(self, request: Request, person_id: int) -> Response:
        done = releasing.release_lead(person_id=person_id, **self.common(request), **read(LeadReleaseIn, request))
        return self.answer(done)


class LeadsView(UseCaseView):
    """Who leads now and in the morning, how long on duty, and which stops would go to others."""

    roles = DESK

    @reads(release_pages.ReleaseChoice)
    def get(self, request: Request, area: str) -> Response:
        found = get_object_or_404(Area, code=area)
        return self.answer(release_pages.release_choice(area=found, now=timezone.now()))


class NoticesView(UseCaseView):
    """What became of the messages of the last 24 hours."""

    roles = DESK

    @reads(notice_pages.Notices)
    def get(self, request: Request, area: str) -> Response:
        found = get_object_or_404(Area, code=area)
        return self.answer(notice_pages.notices(area=found, now=timezone.now()))


class HereView(UseCaseView):
    """Who else has this call or job open; POST says that you have, and again within half a minute."""

    roles = DESK
    kind = ""

    @reads(presence.AlsoHere)
    def get(self, request: Request, subject_id: int) -> Response:
        user, now = signed_in(request.user), timezone.now()
        return self.answer(presence.also_here(user=user, kind=self.kind, subject_id=subject_id, now=now))

    @writes(None, presence.AlsoHere)
    def post(self, request: Request, subject_id: int) -> Response:
        user, now = signed_in(request.user), timezone.now()
        return self.answer(presence.here(user=user, kind=self.kind, subject_id=subject_id, now=now))


class ReachIn(serializers.Serializer[Any]):
    """The way, and the e-mail address where it is new."""

    reach_by = serializers.ChoiceField(choices=WaysToReach.choices, allow_blank=True)
    email = serializers.EmailField(required=False, allow_blank=True)


class ReachPersonView(UseCaseView):
    """How messages go to one of us."""

    verbs = {"POST": "set_how_to_reach"}

    @writes(ReachIn, reaching.Reached)
    def post(self, request: Request, person_id: int) -> Response:
        told = read(ReachIn, request)
        return self.answer(reaching.set_how_to_reach(person_id=person_id, **self.common(request), **told))


class ReachContactView(UseCaseView):
    """How messages go to somebody of a job."""

    verbs = {"POST": "set_how_to_reach"}

    @writes(ReachIn, reaching.Reached)
    def post(self, request: Request, contact_id: int) -> Response:
        told = read(ReachIn, request)
        return self.answer(reaching.set_how_to_reach(contact_id=contact_id, **self.common(request), **told))
