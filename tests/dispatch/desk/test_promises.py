"""Promises at the desk: on the board with a fixed number of queries, and one page to record and agree on."""

from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.utils import timezone

from dispatch.desk import pages
from dispatch.emergencies import send
from jobs import clocks
from jobs.models import Call, Promise
from tests.dispatch.night import NIGHT, Night

QUERIES = 23


@pytest.fixture
def desk(night: Night) -> Client:
    client = Client()
    client.force_login(night.dispatcher)
    return client


@pytest.mark.parametrize("more", [0, 5])
def test_the_board_takes_the_same_queries_for_any_number_of_promises(
    night: Night, more: int, django_assert_num_queries: Any
) -> None:
    send(**night.by(night.dispatcher), call_id=night.call(), crew_id=night.ready.pk)
    for _ in range(more + 1):
        night.call()
    with django_assert_num_queries(QUERIES):
        board = pages.board(area=night.cast.area, now=NIGHT + timedelta(minutes=16))
    assert len(board.clocks.lines) == more + 2
    assert [line.kind for line in board.clocks.lines] == ["arrival", *["contact"] * (more + 1)]
    assert board.clocks.lines[-1].left == "late by 1 min"
    assert all(call.next_contact_at and call.owner for call in board.calls)


def test_sending_a_crew_promises_the_time_that_the_caller_is_told(night: Night) -> None:
    sent = send(**night.by(night.dispatcher), call_id=night.call(), crew_id=night.ready.pk)
    arrival = Promise.objects.get(visit_id=sent.visit_id)
    assert (arrival.kind, arrival.due_at, arrival.basis) == ("arrival", sent.arrive_at, "the time that we gave")


def test_the_desk_records_a_contact_and_agrees_another_time(night: Night, desk: Client) -> None:
    call_id = night.call()
    promise = clocks.running(Promise.objects.filter(call_id=call_id)).get()
    page = f"/desk/promises/{promise.pk}"
    board = desk.get("/desk").content.decode()
    assert f'href="{page}"' in board
    no_name = desk.post(
        page, {"key": str(uuid4()), "what": "agree", "new_day": "2099-01-02", "new_time": "08:00", "with_whom": ""}
    )
    assert no_name.status_code == 422
    assert "with whom" in no_name.content.decode()
    assert 'value="2099-01-02"' in no_name.content.decode()
    assert desk.post(page, {"key": str(uuid4()), "what": "did"}).status_code == 302
    assert "has ended" in desk.get(page).content.decode()
    call = Call.objects.get(pk=call_id)
    assert call.next_contact_at is not None
    assert call.next_contact_at > timezone.now()


def test_a_crew_may_not_enter(night: Night) -> None:
    promise = Promise.objects.get(call_id=night.call())
    crew = Client()
    crew.force_login(night.cast.lead)
    assert crew.get(f"/desk/promises/{promise.pk}").status_code == 403
