"""Several callers of one loss: offered by place and time, joined, and split again with nothing lost."""

from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.contrib.auth.models import User

from jobs import clocks, intake, joining
from jobs.models import Area, Call, Contact, Job, Promise
from jobs.places import Place
from jobs.same_loss import door_of, same_loss
from tests.jobs.conftest import NIGHT, later

VANCOUVER = Place("Vancouver", "WA", "98664", "Clark County", "America/Los_Angeles", 45.6, -122.6, "ZIP")


def by(who: User, minutes: float) -> dict[str, Any]:
    return {"key": uuid4(), "actor": who, "now": later(minutes)}


@pytest.fixture
def neighbor(job: Job, area: Area, dispatcher: User) -> Call:
    taken = intake.take_call(**by(dispatcher, 30), area_id=area.pk, callback_number="360-555-0142")
    for field, value in {"caller_name": "Rune Aldous", "caller_role": "neighbor", "care": "infant"}.items():
        intake.answer_call(**by(dispatcher, 31), call_id=taken.call_id, field=field, value=value, seen=0)
    return Call.objects.get(pk=taken.call_id)


@pytest.mark.parametrize(
    ("street", "unit", "minutes", "why"),
    [
        ("5230 Teasel Field Ct.", "", 40, "the same address, 40 min apart"),
        ("5230 teasel field court", "B", 40, "the same building, another unit, 40 min apart"),
        ("5234 Teasel Field Court", "", 180, "next door, 3 h apart"),
        ("5234 Teasel Field Court", "", 60 * 25, None),
        ("5260 Teasel Field Court", "", 10, None),
        ("5230 Teasel Field Road", "", 10, None),
        ("Teasel Field Court", "", 10, None),
    ],
)
def test_a_job_is_offered_by_place_and_time(job: Job, street: str, unit: str, minutes: int, why: str | None) -> None:
    found = same_loss(
        call_id=0, area_id=job.area_id, street=street, unit=unit, place=VANCOUVER,
        started_at=NIGHT + timedelta(minutes=minutes),
    )  # fmt: skip
    assert [(line.job_number, line.why) for line in found] == ([] if why is None else [(job.number, why)])


def test_a_twin_street_in_the_other_state_is_another_place(job: Job) -> None:
    other = Place("Vancouver", "OR", "", "", "America/Los_Angeles", 45.6, -122.6, "")
    assert same_loss(
        call_id=0, area_id=job.area_id, street=job.street, unit="", place=other, started_at=NIGHT
    ) == ()  # fmt: skip


def test_abbreviations_are_one_street() -> None:
    assert door_of("12 North Elm Avenue") == door_of("12 N. Elm Ave") == (12, "n elm ave")


def test_joining_adds_the_caller_and_splitting_gives_the_call_back_whole(
    job: Job, neighbor: Call, dispatcher: User
) -> None:
    before = (neighbor.answers, neighbor.private_answers, neighbor.versions, neighbor.rooms)
    people = set(Contact.objects.filter(job=job).values_list("phone", "name"))
    joined = joining.join_caller(**by(dispatcher, 35), call_id=neighbor.pk, job_id=job.pk)
    assert joined.job_number == job.number
    assert set(Contact.objects.filter(job=job).values_list("phone", "name")) == people | {
        ("360-555-0142", "Rune Aldous")
    }
    assert not clocks.running(Promise.objects.filter(call=neighbor)).exists()

    joining.split_caller(**by(dispatcher, 50), call_id=neighbor.pk)
    call = Call.objects.get(pk=neighbor.pk)
    assert (call.answers, call.private_answers, call.versions, call.rooms) == before
    assert (call.job_id, call.ended_at, call.ended_as, call.next_contact_at) == (None, None, "", later(65))
    assert set(Contact.objects.filter(job=job).values_list("phone", "name")) == people
    assert clocks.running(Promise.objects.filter(call=call)).count() == 1
    with pytest.raises(joining.NotJoined):
        joining.split_caller(**by(dispatcher, 51), call_id=neighbor.pk)


def test_a_caller_who_is_known_there_is_not_added_twice(job: Job, area: Area, dispatcher: User) -> None:
    known = Contact.objects.filter(job=job).exclude(phone="")[0]
    again = intake.take_call(**by(dispatcher, 60), area_id=area.pk, callback_number=known.phone)
    count = Contact.objects.count()
    assert joining.join_caller(**by(dispatcher, 61), call_id=again.call_id, job_id=job.pk).contact_id is None
    joining.split_caller(**by(dispatcher, 62), call_id=again.call_id)
    assert Contact.objects.count() == count
