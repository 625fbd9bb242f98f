"""The API of what others changed since somebody last looked."""

from typing import Any

from django.shortcuts import get_object_or_404
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from dispatch import changes
from jobs import access
from jobs.api_base import UseCaseView, read, reads, writes
from jobs.models import Area
from jobs.people import signed_in


class LookedIn(serializers.Serializer[Any]):
    """Up to when the changes were seen: the `until` of the list."""

    until = serializers.DateTimeField()


class ChangesView(UseCaseView):
    """What others changed since the asker last looked; a POST says up to when it was seen."""

    roles = frozenset({access.DISPATCHER, access.MANAGER})
    verbs = {"POST": "mark_looked"}

    @reads(changes.Changes)
    def get(self, request: Request, area: str) -> Response:
        found = get_object_or_404(Area, code=area)
        viewer = signed_in(request.user)
        return self.answer(changes.changes_since_look(area=found, viewer=viewer, now=timezone.now()))

    @writes(LookedIn, changes.Looked)
    def post(self, request: Request, area: str) -> Response:
        found = get_object_or_404(Area, code=area)
        return self.answer(changes.mark_looked(area_id=found.pk, **self.common(request), **read(LookedIn, request)))
