"""One unit: its whole history, what is wrong with it, where it really is, and that it went straight to another job."""

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_http_methods

from equipment import custody, selectors
from equipment.models import Condition, Vehicle, Warehouse
from equipment.numbers import unit_number
from equipment.warehouse import pages
from equipment.warehouse.answering import answer, done, read, room, undo
from equipment.warehouse.forms import ConditionForm, KeyedForm, LateForm
from jobs.models import Job
from jobs.refusals import NotThere, Unusable
from jobs.sent import whole

JOB = "job"


class CorrectForm(KeyedForm):
    """Where the last entry should have put the unit, and why it did not."""

    move_id = forms.IntegerField(min_value=1)
    place = forms.CharField(max_length=30, error_messages={"required": "Choose where it really is."})
    job_number = forms.CharField(max_length=20, required=False)
    room_name = forms.CharField(max_length=60, required=False)
    condition = forms.ChoiceField(
        choices=[("", "")] + [(one.value, one.label) for one in Condition if one != Condition.IN_USE], required=False
    )
    reason = forms.CharField(max_length=200, error_messages={"required": "A correction says why. Give the reason."})


class StraightForm(LateForm):
    """To which job and room the unit went straight from the one where it stood."""

    job_number = forms.CharField(max_length=20, error_messages={"required": "Give the number of the next job."})
    room_name = forms.CharField(max_length=60, required=False)


def set_condition(request: HttpRequest) -> pages.Said:
    """Say that a unit is broken, dirty or to be held back."""
    values = read(ConditionForm(request.POST), request)
    numbers = (values.pop("number"),)
    return pages.said_of(custody.set_condition(**values, numbers=numbers).scans)


@room
@require_http_methods(["GET", "POST"])
def unit(request: HttpRequest, number: str) -> HttpResponse:
    """One unit's whole history, and what can be said about it."""
    there = pages.places(request.user)  # type: ignore[arg-type]
    if not there:
        raise NotThere("You belong to no area with a warehouse. Ask your manager.")
    desk, number = pages.Desk(there[0], "find"), unit_number(number)
    areas = {place.area_id for place in there}
    deeds = {
        "condition": lambda: set_condition(request),
        "correct": lambda: _correct(request, areas),
        "straight": lambda: _straight(request, areas, number),
        "undo": lambda: undo(request),
    }
    desk, status = done(request, desk, deeds)
    refused = request.POST if status != 200 else {}
    wrong = refused.get("do") == "condition"
    vehicles = Vehicle.objects.filter(area__in=areas).order_by("name").values_list("pk", "name")
    return answer(
        request,
        "unit",
        desk,
        status,
        history=selectors.unit_history(number),
        form=ConditionForm(request.POST if wrong else None),
        refused=refused,
        places=[
            *((f"warehouse:{place.id}", place.name) for place in there),
            *((f"vehicle:{k}", n) for k, n in vehicles),
        ],
        conditions=[(one.value, one.label) for one in Condition if one != Condition.IN_USE],
    )


def _correct(request: HttpRequest, areas: set[int]) -> pages.Said:
    values = read(CorrectForm(request.POST), request)
    place, job_number = values.pop("place"), values.pop("job_number")
    values["condition"] = values["condition"] or None
    return pages.said_of((custody.correct_move(**{**values, **_place(place, job_number, areas)}),))


def _place(place: str, job_number: str, areas: set[int]) -> dict[str, Any]:
    """The one place that was chosen, as the use case takes it."""
    if place == JOB:
        return {"job_id": _job(job_number, areas), "condition": Condition.IN_USE.value}
    kind, _, pk = place.partition(":")
    rows: Any = {"warehouse": Warehouse.objects, "vehicle": Vehicle.objects}.get(kind)
    if rows is None or whole(pk) is None or not rows.filter(pk=whole(pk), area__in=areas).exists():
        raise Unusable("Choose one of the places of the list.", where="place")
    return {f"{kind}_id": int(pk)}


def _job(number: str, areas: set[int]) -> int:
    job = Job.objects.filter(number__iexact=number.strip(), area__in=areas).first()
    if job is None:
        raise NotThere(f"There is no job {number.strip()!r} here. Give its number.", where="job_number")
    return job.pk


def _straight(request: HttpRequest, areas: set[int], number: str) -> pages.Said:
    values = read(StraightForm(request.POST), request)
    to = _job(values.pop("job_number"), areas)
    return pages.said_of(custody.move_units(**values, numbers=(number,), to_job_id=to).scans)
