"""The one-time link in a page: looking changes nothing, one answer counts, what no longer counts is said."""

import re
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client

from dispatch import answer_tokens, callouts, transports
from dispatch.emergencies import Sent, send
from dispatch.models import CallOut, CallOutStep, Notice
from jobs import due_work
from jobs.models import UseCaseCall
from tests.dispatch.night import NIGHT, Night

FIVE = timedelta(minutes=5)
pages: list[transports.Message] = []


def keep(message: transports.Message) -> None:
    """What a phone would get."""
    pages.append(message)


@pytest.fixture
def clock(settings: Any) -> Iterator[Any]:
    pages.clear()
    settings.NOTICE_TRANSPORT = f"{__name__}.keep"
    settings.ADDRESS = "https://desk.example.com"
    with time_machine.travel(NIGHT, tick=False) as traveller:
        yield traveller


@pytest.fixture
def sent(night: Night, clock: Any) -> Sent:
    return send(**night.by(night.dispatcher), call_id=night.call(), crew_id=night.ready.pk)


def link_of(number: int) -> str:
    """The path of the link in the page of this step, as its receiver got it."""
    due_work.run_due()
    step = CallOutStep.objects.get(number=number)
    page = next(page for page in pages if page.key == step.notices.order_by("pk")[0].key)
    found = re.search(r"https://desk\.example\.com(/go/[\w-]{22})$", page.text)
    assert found, page.text
    return found[1]


def answers() -> list[tuple[str, str, str]]:
    return [(step.person.name, step.answer, step.reason) for step in CallOutStep.objects.all()]


def test_looking_changes_nothing_and_yes_sends_the_crew_once(sent: Sent) -> None:
    link, anybody = link_of(1), Client(enforce_csrf_checks=True)
    for look in (anybody.get, anybody.head, anybody.get):
        page = look(link)
        assert page.status_code == 200
        assert page["Referrer-Policy"] == "no-referrer"
        assert "no-store" in page["Cache-Control"]
    text = anybody.get(link).content.decode()
    assert "Can you go now, Ada?" in text
    assert "<script" not in text
    assert "Teasel" not in text, "the customer's street is for those who are signed in"
    assert answers() == [("Ada", "", "")]

    assert "Thank you" in anybody.post(link, {"answer": "leaving"}).content.decode()
    assert CallOut.objects.get().state == "accepted"
    assert "Thank you" in anybody.post(link, {"answer": "leaving"}).content.decode(), "pressed twice is said once"
    refused = anybody.post(link, {"answer": "cannot", "reason": "changed my mind"})
    assert refused.status_code == 409
    assert "answered at 10:47" in refused.content.decode()
    assert answers() == [("Ada", "leaving", "")]


def test_no_says_why_and_asks_the_next_at_once(sent: Sent) -> None:
    link = link_of(1)
    answered = Client().post(link, {"answer": "cannot", "reason": "my van does not start"})
    assert "next person is being asked" in answered.content.decode()
    assert answers() == [("Ada", "cannot", "my van does not start"), ("Ben", "", "")]
    assert Client().post(link, {"answer": "maybe"}).status_code == 409


def test_it_says_when_the_next_was_asked_when_somebody_goes_and_when_it_is_too_old(
    sent: Sent, night: Night, clock: Any, settings: Any
) -> None:
    settings.ANSWER_LINK_MINUTES = 4
    first = link_of(1)
    clock.move_to(NIGHT + FIVE - timedelta(seconds=30))
    late = Client().post(first, {"answer": "leaving"})
    assert (late.status_code, answers()) == (410, [("Ada", "", "")])
    assert "too old" in late.content.decode()

    clock.move_to(NIGHT + FIVE)
    due_work.run_due()
    over = Client().post(first, {"answer": "leaving"})
    assert over.status_code == 409
    assert "next person was asked at 10:52" in over.content.decode()

    second = link_of(2)
    with pytest.raises(callouts.NotAsked):
        callouts.answer_call_out(**night.by(night.lapsed.lead.user), call_out_id=sent.call_out_id, answer="leaving")
    callouts.answer_call_out(**night.by(night.cast.lead), call_out_id=sent.call_out_id, answer="leaving")
    assert "Somebody else is on the way" in Client().get(second).content.decode()
    due_work.run_due()
    assert "No longer needed: Ada goes" in pages[-1].text


def test_the_token_is_in_no_table_and_belongs_to_one_page(sent: Sent) -> None:
    token = link_of(1).removeprefix("/go/")
    Client().post(f"/go/{token}", {"answer": "cannot", "reason": "sick"})
    step = CallOutStep.objects.get(number=1)
    assert step.token_hash == answer_tokens.hash_of(token) != token
    assert not Notice.objects.filter(text__contains=token).exists()
    assert not [call for call in UseCaseCall.objects.all() if token in f"{call.arguments}{call.private_arguments}"]
    assert link_of(2) != f"/go/{token}"
    wrong = Client().get(f"/go/{token[:-1]}")
    assert wrong.status_code == 404
    assert "part of it is missing" in wrong.content.decode()


def test_the_same_over_the_api(sent: Sent) -> None:
    path = f"/api/v1/answer-links/{link_of(1).removeprefix('/go/')}"
    asked = Client().get(path).json()
    assert (asked["person"], asked["state"], asked["job_number"]) == ("Ada", "open", "J-1001")
    body = {"answer": "leaving", "key": "7a1f7a5e-0000-4000-8000-000000000001"}
    assert Client().post(path, body, "application/json").json()["state"] == "accepted"
    again = Client().post(path, {**body, "key": "7a1f7a5e-0000-4000-8000-000000000002"}, "application/json")
    assert (again.status_code, again.json()["code"]) == (409, "link_used")


def test_without_an_address_no_link_is_sent(sent: Sent, settings: Any) -> None:
    settings.ADDRESS = ""
    due_work.run_due()
    assert "/go/" not in pages[0].text
