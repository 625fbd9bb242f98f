"""A call becomes a job: enough or not, who belongs to it, and its rooms in the port's measures."""

from collections.abc import Callable
from uuid import uuid4

import pytest
from django.contrib.auth.models import User

from jobs import intake, loss, opening, selectors
from jobs.models import Call, Job, JournalEntry, Payer, UseCaseCall
from jobs.refusals import NotAllowed
from tests.jobs.conftest import ENOUGH, later

Save = Callable[..., intake.FieldSaved]


def test_everything_missing_is_named_at_once(call_id: int, dispatcher: User) -> None:
    with pytest.raises(opening.NotEnoughYet) as refused:
        opening.open_job(call_id=call_id, actor=dispatcher, now=later(2))

    assert refused.value.data["missing"] == [
        "street", "state", "running", "category", "power", "rooms", "lets_in", "can_sign"
    ]  # fmt: skip
    assert not Job.objects.exists()


@pytest.mark.parametrize("without", ["running", "power", "lets_in", "can_sign", "zip_code", "street"])
def test_each_of_them_is_needed(enough: int, dispatcher: User, answer: Save, without: str) -> None:
    answer(without, "")

    with pytest.raises(opening.NotEnoughYet) as refused:
        opening.open_job(call_id=enough, actor=dispatcher, now=later(2))
    assert refused.value.data["missing"] == ["state" if without == "zip_code" else without]


def test_half_a_number_is_not_enough_to_send(enough: int, dispatcher: User, answer: Save) -> None:
    answer("callback_number", "360-55")

    assert selectors.call_facts(enough).missing == ("callback_number",)


def test_a_booked_visit_needs_only_a_number_and_a_place(call_id: int, dispatcher: User, answer: Save) -> None:
    answer("street", "1 Main Street")
    answer("zip_code", "97914")
    opened = opening.open_job(call_id=call_id, actor=dispatcher, now=later(2), to_book=True)

    job = Job.objects.get(pk=opened.job_id)
    assert (job.town, job.state, job.county, job.time_zone) == ("Ontario", "OR", "Malheur County", "America/Boise")


def test_the_job_holds_what_the_call_said(enough: int, dispatcher: User, answer: Save) -> None:
    answer("hours_wet", "2")
    answer("payer", "Tidewater Crossing")
    Payer.objects.create(code="tidewater", name="Tidewater Crossing")
    opened = opening.open_job(call_id=enough, actor=dispatcher, now=later(5))

    job = Job.objects.get(pk=opened.job_id)
    assert (job.number, job.stage, job.state, job.category) == ("J-1001", "waiting", "WA", 1)
    assert job.began_at == later(-120)
    assert job.payer is not None
    assert Call.objects.get(pk=enough).job == job
    facts = selectors.job_facts(job.pk)
    assert [room.name for room in facts.rooms] == ["kitchen", "hall"]
    assert facts.rooms[0].measures["wet_floor_sqft"] == 120
    (caller,) = selectors.contacts(job.pk)
    assert (caller.name, caller.phone, caller.lets_in, caller.can_sign) == (
        "Marisol Tarnwick", "360-555-0199", True, True
    )  # fmt: skip


def test_another_person_who_lets_us_in_is_a_contact(enough: int, dispatcher: User, answer: Save) -> None:
    answer("lets_in", "neighbor at the green door")
    opened = opening.open_job(call_id=enough, actor=dispatcher, now=later(5))

    people = {person.role: person for person in selectors.contacts(opened.job_id)}
    assert people["lets us in"].name == "neighbor at the green door"
    assert not people["owner"].lets_in


def test_opening_twice_gives_the_same_job(enough: int, dispatcher: User) -> None:
    first = opening.open_job(call_id=enough, actor=dispatcher, now=later(5))

    assert opening.open_job(call_id=enough, actor=dispatcher, now=later(6)) == first


def test_numbers_go_on_from_the_highest(job: Job, dispatcher: User, area: object, answer: Save) -> None:
    Job.objects.filter(pk=job.pk).update(number="J-1999")
    taken = intake.take_call(
        key=uuid4(), actor=dispatcher, now=later(8), area_id=job.area_id, callback_number="503-555-0100"
    )
    for field in ("street", "zip_code"):
        intake.answer_call(
            key=uuid4(), actor=dispatcher, now=later(8), call_id=taken.call_id, field=field,
            value=ENOUGH[field], seen=0,
        )  # fmt: skip

    opened = opening.open_job(call_id=taken.call_id, actor=dispatcher, now=later(9), to_book=True)
    assert opened.number == "J-2000"


def test_private_facts_are_for_the_desk_and_the_crew_on_the_job(job: Job, dispatcher: User, lead: User) -> None:
    assert selectors.private_facts(viewer=dispatcher, job_id=job.pk).access == "key box 4417"
    assert selectors.private_facts(viewer=lead, job_id=job.pk, on_the_job=True).care == "oxygen machine upstairs"
    with pytest.raises(NotAllowed):
        selectors.private_facts(viewer=lead, job_id=job.pk)


def test_codes_and_care_stand_nowhere_else(job: Job) -> None:
    kept = str([*JournalEntry.objects.values(), *UseCaseCall.objects.values("arguments", "answer", "refusal")])

    for secret in ("4417", "oxygen", "Tarnwick", "0199"):
        assert secret not in kept


def test_a_known_number_finds_its_open_job(job: Job) -> None:
    assert [line.number for line in selectors.jobs_of_phone("(360) 555 0199")] == [job.number]
    assert selectors.jobs_of_phone("360-555-0111") == ()


def test_signing_is_recorded_once(job: Job, lead: User) -> None:
    opening.authorize_job(key=uuid4(), actor=lead, now=later(90), job_id=job.pk, limits="no removal of cabinets")

    assert selectors.job_facts(job.pk).authorized_limits == "no removal of cabinets"
    with pytest.raises(opening.AuthorizedBefore):
        opening.authorize_job(key=uuid4(), actor=lead, now=later(99), job_id=job.pk)


def test_the_loss_of_the_job_is_the_loss_of_the_call(enough: int, dispatcher: User) -> None:
    told = loss.of_call(Call.objects.get(pk=enough))
    assert told is not None
    opened = opening.open_job(call_id=enough, actor=dispatcher, now=later(5))

    assert loss.of_job(Job.objects.get(pk=opened.job_id), now=later(5))["chambers"] == told["chambers"]
    assert told["chambers"][0]["rooms"][0]["wall_runs"][0]["length_ft"] == 30
