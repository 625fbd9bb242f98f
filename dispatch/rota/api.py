"""The API of the rota: read it, try a change, make a change. Each write is one use case."""

from collections.abc import Callable
from datetime import date
from typing import Any

from django.shortcuts import get_object_or_404
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from dispatch import single_points
from dispatch.models import Shift
from dispatch.rota import changing, pages
from dispatch.rota.effects import RotaEffect
from jobs import access
from jobs.api_base import UseCaseView, read, reads, writes
from jobs.models import Area

DESK = frozenset({access.DISPATCHER, access.MANAGER})


class RotaView(UseCaseView):
    """The rota of a day (`day`; left out: tonight's)."""

    roles = DESK

    @reads(pages.RotaPage)
    def get(self, request: Request, area: str) -> Response:
        place, given = get_object_or_404(Area, code=area), request.query_params.get("day")
        day: date | None = None if given is None else serializers.DateField().run_validation(given)
        return self.answer(pages.rota_page(area=place, now=timezone.now(), day=day))


class SinglePointsView(UseCaseView):
    """What hangs on one crew or one unit tonight."""

    roles = DESK

    @reads(single_points.SinglePoint, many=True)
    def get(self, request: Request, area: str) -> Response:
        place = get_object_or_404(Area, code=area)
        return self.answer(single_points.single_points(area=place, now=timezone.now()))


class _Reasoned(serializers.Serializer[Any]):
    """Why, kept with the name of whoever changes the rota."""

    reason = serializers.CharField(required=False, allow_blank=True, max_length=300)


class MakeShiftIn(_Reasoned):
    """A person's hours, and the vehicle on which they work, as lead of a new crew or as helper of the one it has."""

    person_id = serializers.IntegerField(min_value=1)
    kind = serializers.ChoiceField(choices=Shift.Kind.choices)
    starts_at = serializers.DateTimeField()
    ends_at = serializers.DateTimeField()
    vehicle_id = serializers.IntegerField(min_value=1, required=False, allow_null=True)


class CoverShiftIn(_Reasoned):
    """Who takes the shift."""

    shift_id = serializers.IntegerField(min_value=1)
    person_id = serializers.IntegerField(min_value=1)


class SwapShiftsIn(_Reasoned):
    """The two shifts."""

    shift_id = serializers.IntegerField(min_value=1)
    with_shift_id = serializers.IntegerField(min_value=1)


class CancelShiftIn(_Reasoned):
    """The shift to take out."""

    shift_id = serializers.IntegerField(min_value=1)


class OrderIn(_Reasoned):
    """The night and the people in the order in which they are called."""

    area_id = serializers.IntegerField(min_value=1)
    night_of = serializers.DateField()
    person_ids = serializers.ListField(child=serializers.IntegerField(min_value=1), max_length=100)


def _pair(
    verb: str,
    shape: type[serializers.Serializer[Any]],
    do: Callable[..., changing.RotaChanged],
    think: Callable[..., changing.Change],
) -> tuple[type[UseCaseView], type[UseCaseView]]:
    """The view that makes one kind of change, and the one that only tells what it would do."""

    class Do(UseCaseView):
        verbs = {"POST": verb}

        @writes(shape, changing.RotaChanged, status=201)
        def post(self, request: Request) -> Response:
            return self.answer(do(**{"reason": "", **read(shape, request)}, **self.common(request)), status=201)

    class Try(UseCaseView):
        verbs = {"POST": verb}

        @writes(shape, RotaEffect)
        def post(self, request: Request) -> Response:
            now, sent = timezone.now(), read(shape, request)
            sent.pop("reason", None)
            if verb != "make_shift":
                sent["now"] = now
            return self.answer(changing.preview(think(**sent), now=now))

    Do.__doc__ = f"Change the rota: {verb.replace('_', ' ')}."
    Try.__doc__ = f"What it would do to the night; nothing is changed ({verb.replace('_', ' ')})."
    return Do, Try


MakeShift, TryMakeShift = _pair("make_shift", MakeShiftIn, changing.make_shift, changing.making)
CoverShift, TryCoverShift = _pair("cover_shift", CoverShiftIn, changing.cover_shift, changing.covering)
SwapShifts, TrySwapShifts = _pair("swap_shifts", SwapShiftsIn, changing.swap_shifts, changing.swapping)
CancelShift, TryCancelShift = _pair("cancel_shift", CancelShiftIn, changing.cancel_shift, changing.canceling)
Order, TryOrder = _pair("order_call_outs", OrderIn, changing.order_call_outs, changing.ordering)
