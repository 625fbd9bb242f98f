"""The frame of every use case: one answer for one key, one record of what was asked, private parts apart."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.contrib.auth.models import User
from django.db import DataError

from jobs import access, intake, use_case
from jobs.models import Area, Call, UseCaseCall
from jobs.refusals import ChangedMeanwhile, KeyReused, NotAllowed, Refusal, Unusable
from tests.jobs.conftest import NIGHT, later


def _take(area: Area, actor: User, key: UUID, number: str = "360-555-0199") -> intake.CallTaken:
    return intake.take_call(key=key, actor=actor, now=NIGHT, area_id=area.pk, callback_number=number)


def test_the_same_key_gives_the_first_answer_and_one_row(area: Area, dispatcher: User) -> None:
    key = uuid4()
    first = _take(area, dispatcher, key)
    # The clock has moved on when a device sends again: that makes it no other request.
    again = intake.take_call(key=key, actor=dispatcher, now=later(9), area_id=area.pk, callback_number="360-555-0199")

    assert again == first
    assert Call.objects.count() == 1
    assert UseCaseCall.objects.filter(key=key).count() == 1


@pytest.mark.parametrize("what", ["content", "actor", "verb"])
def test_a_key_stands_for_one_thing(area: Area, dispatcher: User, manager: User, what: str) -> None:
    key = uuid4()
    call_id = _take(area, dispatcher, key).call_id

    again = {
        "content": lambda: _take(area, dispatcher, key, "360-555-0100"),
        "actor": lambda: _take(area, manager, key),
        "verb": lambda: intake.end_call(
            key=key, actor=dispatcher, now=NIGHT, call_id=call_id, ended_as="no_crew", reason="x"
        ),
    }[what]
    with pytest.raises(KeyReused):
        again()

    assert Call.objects.get().private_answers["callback_number"] == "360-555-0199"


def test_what_was_asked_is_recorded_with_its_time_and_answer(area: Area, dispatcher: User) -> None:
    key = uuid4()
    taken = _take(area, dispatcher, key)

    record = UseCaseCall.objects.get(key=key)
    assert (record.verb, record.actor, record.now, record.outcome) == ("take_call", dispatcher, NIGHT, "done")
    assert record.arguments == {"area_id": area.pk}
    assert record.private_arguments == {"callback_number": "360-555-0199"}
    assert record.answer == {"call_id": taken.call_id, "area_id": area.pk}


def test_a_refused_call_is_recorded_and_leaves_nothing_else(area: Area, dispatcher: User, lead: User) -> None:
    with pytest.raises(NotAllowed):
        _take(area, lead, uuid4())
    with pytest.raises(Refusal):
        _take(area, dispatcher, uuid4(), "not a number")

    records = UseCaseCall.objects.order_by("pk").values_list("outcome", "refusal__code")
    assert list(records) == [("refused", "not_allowed"), ("refused", "unusable_value")]
    assert not Call.objects.exists()


def test_a_key_that_was_refused_can_be_used_again(area: Area, dispatcher: User) -> None:
    """A device mends what was wrong and sends again; nothing stands under the key yet."""
    key = uuid4()
    with pytest.raises(Refusal):
        _take(area, dispatcher, key, "not a number")

    assert _take(area, dispatcher, key).call_id == Call.objects.get().pk


def test_the_fingerprint_does_not_give_a_number_away(area: Area, dispatcher: User, settings: Any) -> None:
    """After the number is erased it must not be guessed back from what stays: the secret goes into it."""
    settings.SECRET_KEY = "one" * 20
    _take(area, dispatcher, key := uuid4())
    settings.SECRET_KEY = "two" * 20
    _take(area, dispatcher, other := uuid4())

    assert UseCaseCall.objects.get(key=key).fingerprint != UseCaseCall.objects.get(key=other).fingerprint


def test_a_record_of_a_conflict_holds_neither_value() -> None:
    refusal = ChangedMeanwhile("changed", where="caller_name", theirs="a name", yours="another", version=2)

    assert refusal.as_data()["theirs"] == "a name"
    assert refusal.as_record() == {"where": "caller_name", "version": 2}


def test_one_inside_another_belongs_to_the_outer_record(
    area: Area, dispatcher: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(access.VERBS, "take_two_calls", frozenset({access.DISPATCHER}))

    @dataclass(frozen=True)
    class Two:
        first: int
        second: int

    def take_two_calls(*, key: UUID, actor: User, now: datetime, area_id: int) -> Two:
        calls = [
            intake.take_call(key=use_case.key_for(key, part), actor=actor, now=now, area_id=area_id)
            for part in ("first", "second")
        ]
        return Two(calls[0].call_id, calls[1].call_id)

    take_two_calls.__annotations__["return"] = Two
    outer = use_case.use_case("take_two_calls")(take_two_calls)
    key = uuid4()
    answer = outer(key=key, actor=dispatcher, now=NIGHT, area_id=area.pk)
    use_case.every.pop("take_two_calls")

    assert UseCaseCall.objects.get().verb == "take_two_calls"
    assert outer(key=key, actor=dispatcher, now=NIGHT, area_id=area.pk) == answer
    assert Call.objects.count() == 2


def test_part_keys_are_steady_and_apart() -> None:
    key = uuid4()

    assert use_case.key_for(key, "a") == use_case.key_for(key, "a")
    assert len({use_case.key_for(key, "a"), use_case.key_for(key, "b"), use_case.key_for(uuid4(), "a"), key}) == 4


def test_a_use_case_needs_a_verb_of_the_table_and_keywords_only() -> None:
    def with_positions(actor: User) -> None: ...

    with pytest.raises(TypeError, match="table of roles"):
        use_case.use_case("fly_to_the_moon")
    with pytest.raises(TypeError, match="keyword"):
        use_case.use_case("take_call")(with_positions)


def test_a_time_without_a_zone_is_refused(area: Area, dispatcher: User) -> None:
    with pytest.raises(TypeError, match="zone"):
        intake.take_call(key=uuid4(), actor=dispatcher, now=NIGHT.replace(tzinfo=None), area_id=area.pk)


def test_a_failure_that_is_no_refusal_leaves_nothing(area: Area, dispatcher: User, monkeypatch: Any) -> None:
    def fail(**_: Any) -> None:
        raise RuntimeError("the disk is full")

    monkeypatch.setattr("jobs.intake.journal.note", fail)
    key = uuid4()
    with pytest.raises(RuntimeError):
        _take(area, dispatcher, key)

    assert not Call.objects.exists()
    assert not UseCaseCall.objects.exists()


@pytest.mark.parametrize("noticed", [DataError, OverflowError])
def test_what_only_the_database_finds_too_large_is_refused_and_changes_nothing(
    area: Area, dispatcher: User, monkeypatch: pytest.MonkeyPatch, noticed: type[Exception]
) -> None:
    def save(*args: Any, **kwargs: Any) -> None:
        raise noticed("out of range")

    monkeypatch.setattr(Call, "save", save)
    monkeypatch.setattr("django.db.models.query.QuerySet.create", save)
    key = uuid4()

    with pytest.raises(Unusable, match="larger than can be kept"):
        _take(area, dispatcher, key)

    assert not Call.objects.exists()
    assert UseCaseCall.objects.get(key=key).refusal["code"] == "unusable_value"
