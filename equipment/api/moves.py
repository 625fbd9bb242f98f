"""Moving numbered units, saying how they are, and taking a scan back."""

from dataclasses import dataclass
from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from equipment import closing, custody, opening
from equipment.api.shared import Happened, Numbers, area_of, happened, whole_id
from jobs.api import JobView
from jobs.api_base import UseCaseView, read, writes


class ScanOutIn(Numbers):
    """Onto which vehicle, for which list or job. `already_happened`: reported afterwards, so nothing is refused."""

    vehicle_id = whole_id()
    load_list_id = whole_id(required=False)
    warehouse_id = whole_id(required=False)
    job_id = whole_id(required=False)
    happened_at = happened()
    already_happened = serializers.BooleanField(required=False)


class ScanOutView(UseCaseView):
    """Load units onto a vehicle."""

    verbs = {"POST": "scan_out"}

    @writes(ScanOutIn, custody.Scanned)
    def post(self, request: Request) -> Response:
        return self.answer(custody.scan_out(**self.common(request), **read(ScanOutIn, request)))


class ScanInIn(Happened):
    """Units coming in at a warehouse."""

    warehouse_id = whole_id()
    already_happened = serializers.BooleanField(required=False)


class ScanInView(UseCaseView):
    """Take units in at a warehouse."""

    verbs = {"POST": "scan_in"}

    @writes(ScanInIn, custody.Scanned)
    def post(self, request: Request) -> Response:
        return self.answer(custody.scan_in(**self.common(request), **read(ScanInIn, request)))


class PlaceIn(Happened):
    """Units placed in a room of a job."""

    job_id = whole_id()
    room_name = serializers.CharField(max_length=60, allow_blank=True)
    vehicle_id = whole_id(required=False)


class PlaceView(UseCaseView):
    """Place units at a job."""

    verbs = {"POST": "place_units"}

    @writes(PlaceIn, custody.Scanned)
    def post(self, request: Request) -> Response:
        return self.answer(custody.place_units(**self.common(request), **read(PlaceIn, request)))


class TakeUpIn(Happened):
    """Units taken up from a job onto a vehicle."""

    job_id = whole_id()
    vehicle_id = whole_id()


class TakeUpView(UseCaseView):
    """Take units up from a job."""

    verbs = {"POST": "take_up_units"}

    @writes(TakeUpIn, custody.Scanned)
    def post(self, request: Request) -> Response:
        return self.answer(custody.take_up_units(**self.common(request), **read(TakeUpIn, request)))


class MoveIn(Happened):
    """Units moved to a room of a job, from another room or straight from a clean loss."""

    to_job_id = whole_id()
    room_name = serializers.CharField(max_length=60, allow_blank=True)
    already_happened = serializers.BooleanField(required=False)


class MoveView(UseCaseView):
    """Move units between rooms or jobs."""

    verbs = {"POST": "move_units"}

    @writes(MoveIn, custody.Scanned)
    def post(self, request: Request) -> Response:
        return self.answer(custody.move_units(**self.common(request), **read(MoveIn, request)))


class ConditionIn(Happened):
    """How units are; `ready` names every step that was done."""

    condition = serializers.CharField(max_length=20)
    steps = serializers.ListField(child=serializers.CharField(max_length=20), required=False)
    note = serializers.CharField(max_length=120, required=False, allow_blank=True)
    in_repair = serializers.BooleanField(required=False)

    def validate_steps(self, value: list[str]) -> tuple[str, ...]:
        return tuple(value)


class ConditionView(UseCaseView):
    """Say how units are."""

    verbs = {"POST": "set_condition"}

    @writes(ConditionIn, custody.Scanned)
    def post(self, request: Request) -> Response:
        return self.answer(custody.set_condition(**self.common(request), **read(ConditionIn, request)))


class UndoView(UseCaseView):
    """Take one scan back."""

    verbs = {"POST": "undo_scan"}

    @writes(None, custody.Scan)
    def post(self, request: Request, move_id: int) -> Response:
        return self.answer(custody.undo_scan(**self.common(request), move_id=move_id))


class CorrectIn(serializers.Serializer[Any]):
    """Where the unit really was, and why the entry was wrong."""

    reason = serializers.CharField(max_length=200)
    warehouse_id = whole_id(required=False)
    vehicle_id = whole_id(required=False)
    job_id = whole_id(required=False)
    room_name = serializers.CharField(max_length=60, required=False, allow_blank=True)
    condition = serializers.CharField(max_length=20, required=False)
    hour_meter = serializers.FloatField(min_value=0, required=False)


class CorrectView(UseCaseView):
    """Correct a unit's last entry; what was written first is kept."""

    verbs = {"POST": "correct_move"}

    @writes(CorrectIn, custody.Scan)
    def post(self, request: Request, move_id: int) -> Response:
        values = read(CorrectIn, request)
        return self.answer(custody.correct_move(**self.common(request), move_id=move_id, **values))


class CloseView(UseCaseView):
    """Close a job at which nothing stands any more."""

    verbs = {"POST": "close_job"}
    state_of = JobView

    @writes(None, closing.Closed)
    def post(self, request: Request, job_id: int) -> Response:
        return self.answer(closing.close_job(**self.common(request), job_id=job_id))


class OpeningIn(serializers.Serializer[Any]):
    """One unit as it is at the start: `place_id` is the id of the warehouse, vehicle or job that `holder` names."""

    number = serializers.CharField(max_length=20)
    model_code = serializers.CharField(max_length=40)
    holder = serializers.ChoiceField(choices=["warehouse", "vehicle", "job"])
    place_id = whole_id()
    room_name = serializers.CharField(max_length=60, required=False, allow_blank=True)
    condition = serializers.CharField(max_length=20, required=False)
    since = serializers.DateTimeField(required=False)
    water_category = serializers.IntegerField(min_value=1, max_value=3, required=False)
    hour_meter = serializers.FloatField(min_value=0, max_value=999_999, required=False)


class EnteredIn(serializers.Serializer[Any]):
    """Units that are new to the record."""

    entries = OpeningIn(many=True, allow_empty=False)
    note = serializers.CharField(max_length=120, required=False, allow_blank=True)

    def validate_entries(self, value: list[dict[str, Any]]) -> tuple[opening.Opening, ...]:
        return tuple(opening.Opening(**row) for row in value)


@dataclass(frozen=True)
class UnitsEntered:
    """How many units were entered."""

    entered: int


class EnterUnitsView(UseCaseView):
    """Enter units that are new to the record."""

    verbs = {"POST": "enter_units"}

    @writes(EnteredIn, UnitsEntered, status=201)
    def post(self, request: Request) -> Response:
        values, area = read(EnteredIn, request), area_of(request)
        return self.answer(
            UnitsEntered(opening.enter_units(**self.common(request), area_id=area.pk, **values)), status=201
        )
