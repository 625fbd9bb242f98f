"""Taking a call: a number is enough, each field is saved alone, two screens overwrite nothing, one way to end."""

from collections.abc import Callable
from uuid import uuid4

import pytest
from django.contrib.auth.models import User

from jobs import intake, selectors
from jobs.calls.fields import NoSuchField
from jobs.models import Area, Call, JournalEntry, UseCaseCall
from jobs.refusals import ChangedMeanwhile, NotAllowed, Unusable
from tests.jobs.conftest import NIGHT, later

Save = Callable[..., intake.FieldSaved]


def test_a_number_is_enough_and_even_that_can_wait(area: Area, dispatcher: User) -> None:
    taken = intake.take_call(key=uuid4(), actor=dispatcher, now=NIGHT, area_id=area.pk)

    facts = selectors.call_facts(taken.call_id)
    assert facts.answers == {}
    assert facts.next_contact_at is not None
    assert facts.next_contact_at > NIGHT


def test_a_number_with_letters_is_refused_and_starts_nothing(area: Area, dispatcher: User) -> None:
    with pytest.raises(Unusable) as refused:
        intake.take_call(key=uuid4(), actor=dispatcher, now=NIGHT, area_id=area.pk, callback_number="36O-555-O199")

    assert refused.value.where == "callback_number"
    assert not Call.objects.exists()


def test_each_field_is_kept_alone(call_id: int, answer: Save) -> None:
    answer("street", "  5230   Teasel Field Court ")
    answer("year_built", "1992")
    with pytest.raises(Unusable):
        answer("year_built", "92")

    facts = selectors.call_facts(call_id)
    assert facts.answers["street"] == "5230 Teasel Field Court"
    assert facts.answers["year_built"] == 1992


def test_half_a_number_is_kept(call_id: int, answer: Save) -> None:
    """The line may drop at any second."""
    answer("callback_number", "360-55")

    assert selectors.call_facts(call_id).answers["callback_number"] == "360-55"


def test_names_numbers_and_codes_are_kept_apart(call_id: int, answer: Save) -> None:
    for field in ("caller_name", "care", "access", "lets_in", "can_sign"):
        answer(field, "Quillfeather")
    answer("street", "1 Main Street")

    call = Call.objects.get(pk=call_id)
    assert "Quillfeather" not in str(call.answers)
    assert "Quillfeather" not in str(list(JournalEntry.objects.values()))
    assert "Quillfeather" not in str(list(UseCaseCall.objects.values("arguments", "answer")))


def test_the_other_screen_is_seen_and_nothing_is_overwritten(call_id: int, answer: Save) -> None:
    answer("town", "Camas", seen=0)

    with pytest.raises(ChangedMeanwhile) as refused:
        answer("town", "Washougal", seen=0)

    assert (refused.value.data["theirs"], refused.value.data["yours"]) == ("Camas", "Washougal")
    assert selectors.call_facts(call_id).answers["town"] == "Camas"
    answer("town", "Washougal", seen=refused.value.data["version"])
    assert selectors.call_facts(call_id).answers["town"] == "Washougal"


def test_two_screens_that_agree_do_not_quarrel(answer: Save) -> None:
    answer("town", "Camas", seen=0)

    assert answer("town", "Camas", seen=0).version == 1


def test_two_fields_never_collide(call_id: int, answer: Save) -> None:
    answer("town", "Camas", seen=0)
    answer("street", "1 Main Street", seen=0)
    answer("room:a:name", "kitchen", seen=0)
    answer("room:a:length_ft", "12", seen=0)

    facts = selectors.call_facts(call_id)
    assert facts.answers["town"] == "Camas"
    assert facts.rooms == ({"id": "a", "name": "kitchen", "length_ft": 12},)


def test_a_conflict_leaves_no_value_in_the_stored_record(answer: Save) -> None:
    answer("caller_name", "Quillfeather", seen=0)
    with pytest.raises(ChangedMeanwhile):
        answer("caller_name", "Thistlewood", seen=0)

    refusals = str(list(UseCaseCall.objects.filter(outcome="refused").values_list("refusal", "arguments")))
    assert "changed_meanwhile" in refusals
    assert "Quillfeather" not in refusals
    assert "Thistlewood" not in refusals


def test_an_unknown_field_is_refused(answer: Save) -> None:
    with pytest.raises(NoSuchField):
        answer("shoe_size", "9")


def test_a_field_is_cleared_by_nothing(call_id: int, answer: Save) -> None:
    answer("unit", "204")
    answer("unit", "")

    assert "unit" not in selectors.call_facts(call_id).answers


def test_a_crew_lead_takes_no_calls(area: Area, lead: User) -> None:
    with pytest.raises(NotAllowed):
        intake.take_call(key=uuid4(), actor=lead, now=NIGHT, area_id=area.pk)


def test_a_call_without_a_crew_ends_with_a_reason(call_id: int, dispatcher: User, answer: Save) -> None:
    common = {"actor": dispatcher, "now": later(3), "call_id": call_id}
    with pytest.raises(intake.EndNeedsReason):
        intake.end_call(key=uuid4(), ended_as="no_crew", reason="  ", **common)
    with pytest.raises(intake.EndNeedsJob):
        intake.end_call(key=uuid4(), ended_as="sent", **common)
    intake.end_call(key=uuid4(), ended_as="no_crew", reason="old stain, a roofer first", **common)

    assert selectors.open_calls() == ()
    with pytest.raises(intake.CallOver):
        answer("town", "Camas")
    with pytest.raises(intake.CallOver):
        intake.end_call(key=uuid4(), ended_as="no_crew", reason="again", **common)


def test_open_calls_are_listed_oldest_first(area: Area, dispatcher: User) -> None:
    ids = [
        intake.take_call(key=uuid4(), actor=dispatcher, now=later(minute), area_id=area.pk).call_id
        for minute in (5, 0, 9)
    ]

    assert [call.call_id for call in selectors.open_calls()] == [ids[1], ids[0], ids[2]]
