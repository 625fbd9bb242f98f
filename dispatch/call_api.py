"""The API of a call that ends with a booked visit."""

from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from dispatch import bookings
from jobs.api import CallView
from jobs.api_base import UseCaseView, read, writes


class BookIn(serializers.Serializer[Any]):
    """The day of the visit, in the place's own zone, and perhaps the window that is promised."""

    due_on = serializers.DateField()
    window_from = serializers.DateTimeField(required=False)
    window_until = serializers.DateTimeField(required=False)
    note = serializers.CharField(required=False, allow_blank=True, max_length=300)


class BookView(UseCaseView):
    """Open the job and book its visit."""

    verbs = {"POST": "book_visit"}
    state_of = CallView

    @writes(BookIn, bookings.Booked, status=201)
    def post(self, request: Request, call_id: int) -> Response:
        booked = bookings.book_visit(**self.common(request), call_id=call_id, **read(BookIn, request))
        return self.answer(booked, status=201)
