"""The call page on the server's side: a fixed number of queries, saves over HTTP, who may enter, what is said."""

import json
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.utils import timezone

from dispatch import bookings
from dispatch.desk import call_pages
from dispatch.desk.call_estimate import in_words
from dispatch.desk.say_back import say_back
from dispatch.emergencies import send
from dispatch.models import CallOut
from jobs import intake, selectors
from jobs.models import Call, Payer, StateRule
from jobs.refusals import Unusable
from tests.dispatch.night import NIGHT, TONIGHT, Night


@pytest.fixture
def desk(night: Night) -> Client:
    client = Client()
    client.force_login(night.dispatcher)
    return client


def _save(desk: Client, call_id: int, field: str, value: Any, seen: int = 0) -> Any:
    body = {"key": str(uuid4()), "field": field, "value": value, "seen": seen}
    return desk.post(f"/desk/calls/{call_id}/answers", json.dumps(body), content_type="application/json")


def test_the_page_takes_the_same_few_queries_for_one_room_and_for_sixty(
    night: Night, desk: Client, django_assert_num_queries: Any
) -> None:
    for number in range(40):
        Payer.objects.create(code=f"p{number}", name=f"Payer {number}")
    small, large = night.call(), night.call()
    rooms = [{"name": f"room {n}", "length_ft": 10, "width_ft": 12, "wet_floor_sqft": 60} for n in range(60)]
    seen = Call.objects.get(pk=large).versions["rooms"]
    intake.answer_call(**night.by(night.dispatcher), call_id=large, field="rooms", value=rooms, seen=seen)

    for call_id in (small, large):
        with django_assert_num_queries(13):
            assert desk.get(f"/desk/calls/{call_id}").status_code == 200


def test_a_save_answers_with_what_stands_beside_the_questions(night: Night, desk: Client) -> None:
    taken = intake.take_call(**night.by(night.dispatcher), area_id=night.cast.area.pk)
    _save(desk, taken.call_id, "zip_code", "98664")
    answer = _save(desk, taken.call_id, "room:a:line", "kitchen 12x14").json()

    assert "Clark County, Washington" in answer["place"]
    assert "An estimate from what was told" in answer["side"]
    assert answer["answers"]["room:a:wet_floor_sqft"] == {"text": "168", "version": 1}
    assert answer["answers"]["room:a:line"]["version"] == 1


def test_a_refused_save_says_where_and_what_would_be_right(night: Night, desk: Client) -> None:
    call_id = night.call()
    refused = _save(desk, call_id, "year_built", "19x6")
    conflict = _save(desk, call_id, "zip_code", "97202", seen=0)

    assert (refused.status_code, refused.json()["where"]) == (422, "year_built")
    assert "four digits" in refused.json()["message"]
    assert (conflict.status_code, conflict.json()["theirs"], conflict.json()["version"]) == (409, "98664", 1)


def test_a_size_that_cannot_be_is_said_with_its_room(night: Night, desk: Client) -> None:
    call_id = night.call()
    answer = _save(desk, call_id, "room:a:wet_floor_sqft", "9000", seen=1)

    assert answer.status_code == 200, answer.json()
    assert "kitchen, Wet floor sq ft: " in answer.json()["side"]


@pytest.mark.parametrize("body", [b"", b"[]", b'{"key": 1}', b'{"key": "x", "field": "town", "value": 1, "seen": 0}'])
def test_a_save_that_is_none_is_refused(night: Night, desk: Client, body: bytes) -> None:
    answer = desk.post(f"/desk/calls/{night.call()}/answers", body, content_type="application/json")

    assert (answer.status_code, answer.json()["code"]) == (422, "unusable_value")


@pytest.mark.parametrize("path", ["new", "1", "1/answers", "1/offers"])
def test_a_crew_lead_takes_no_calls(night: Night, path: str) -> None:
    client = Client()
    client.force_login(night.ready.lead.user)

    assert client.get(f"/desk/calls/{path}").status_code == 403


def test_a_call_that_is_not_there_is_said_so(desk: Client) -> None:
    assert desk.get("/desk/calls/99").status_code == 404


def test_whether_the_call_may_be_recorded_is_said_by_state(night: Night) -> None:
    StateRule.objects.create(
        state="WA", topic="recording_consent", value="all_parties", source="RCW 9.73.030",
        confidence="memory", valid_from=TONIGHT, note="demo: confirm with the state",
    )  # fmt: skip
    facts = selectors.call_facts(night.call())

    assert call_pages.side(facts, now=NIGHT).place.recording == "ask before recording (demo: confirm with the state)"


def test_nobody_is_named_at_the_door_before_they_leave(night: Night) -> None:
    call_id = night.call()
    sent = send(**night.by(night.dispatcher), call_id=call_id, crew_id=night.ready.pk)
    at = sent.arrive_at.astimezone(night.cast.area.zone).strftime("%I:%M %p PST").lstrip("0")

    said = say_back(selectors.call_facts(call_id))
    assert said is not None
    assert (said.lead, said.arrive_at) == ("", at)
    CallOut.objects.update(state=CallOut.State.ACCEPTED)
    said = say_back(selectors.call_facts(call_id))
    assert said is not None
    assert said.lead == "Ada"


def test_a_day_that_has_passed_is_not_booked(night: Night) -> None:
    with pytest.raises(Unusable):
        bookings.book_visit(**night.by(night.dispatcher), call_id=night.call(), due_on=NIGHT.date().replace(day=1))
    assert Call.objects.get().job is None


def test_a_booked_window_is_in_the_places_own_zone(night: Night, desk: Client) -> None:
    call_id = night.call(zip_code="97914")
    form = {
        "key": str(uuid4()),
        "due_on": f"{timezone.now().year + 1}-07-01",
        "window_from": "08:00",
        "window_until": "10:00",
    }
    assert desk.post(f"/desk/calls/{call_id}/book", form).status_code == 302

    job = Call.objects.get(pk=call_id).job
    assert job is not None
    visit = job.visits.get()
    assert visit.window_from is not None
    # Ontario, Oregon keeps mountain time: eight in the morning there is 14:00 UTC in summer.
    assert visit.window_from.hour == 14
    assert "between 8:00 AM MDT and 10:00 AM MDT" in desk.get(f"/desk/calls/{call_id}").content.decode()


def test_counts_are_said_in_words() -> None:
    assert in_words({"air_mover": 14, "lgr": 1, "heater": 0}) == "1 low-grain dehumidifier, 14 air movers"
