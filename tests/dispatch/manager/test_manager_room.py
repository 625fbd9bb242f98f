"""The manager's pages: who may see them, what they say, and that their queries do not grow."""

from datetime import timedelta
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.utils import timezone

from dispatch.models import Card
from jobs.models import Call, Promise, PromiseEnd
from tests.dispatch.night import Night

PAGES = ("/manager", "/manager/surge", "/manager/measures", "/manager/measures/promises_kept")
FILES = ("/manager/measures.csv", "/manager/measures/promises_kept.csv")
READS = ("manager", "surge", "measures", "measures/promises_kept")


def signed_in(who: User) -> Client:
    client = Client()
    client.force_login(who)
    return client


@pytest.fixture
def manager(night: Night) -> Client:
    return signed_in(night.cast.manager)


def test_the_room_is_the_managers(night: Night, manager: Client) -> None:
    for address in (*PAGES, *FILES, *(f"/api/v1/areas/{night.cast.area.code}/{read}" for read in READS)):
        assert manager.get(address).status_code == 200, address
        for other in (night.dispatcher, night.cast.keeper, night.cast.lead):
            assert signed_in(other).get(address).status_code == 403, (address, other.username)


def test_callers_who_wait_and_cards_that_lapse_are_named(night: Night, manager: Client) -> None:
    night.call(running="running")
    ended = night.call()
    Call.objects.filter(pk=ended).update(
        ended_at=timezone.now(), ended_as=Call.EndedAs.NO_CREW, end_reason="a tripped breaker"
    )
    person = night.ready.lead
    today = timezone.now().astimezone(night.cast.area.zone).date()
    Card.objects.update_or_create(person=person, kind="fit_test", defaults={"expires_on": today + timedelta(days=5)})
    text = manager.get("/manager").content.decode()
    assert "Waiting callers: 1" in text
    assert "the water is still running" in text
    assert "a tripped breaker" in text
    assert f"{person.name}: respirator fit test" in text
    assert "Within 7 days" in text


def test_a_month_that_is_none_is_refused_and_says_what_would_be_right(manager: Client) -> None:
    answer = manager.get("/manager/measures?month=2026-13")
    assert answer.status_code == 422
    assert "Write the year and the month" in answer.content.decode()
    assert manager.get("/manager/measures/no_such").status_code == 404


def test_the_cases_of_a_payer_stand_in_the_file(night: Night, manager: Client) -> None:
    now = timezone.now()
    for end in (PromiseEnd.End.KEPT, PromiseEnd.End.BROKEN):
        row = Promise.objects.create(
            area=night.cast.area, kind="arrival", job=night.cast.job(), basis="test", starts_at=now, due_at=now
        )
        PromiseEnd.objects.create(
            promise=row, end=end, happened_at=now, recorded_at=now, actor=night.dispatcher, why="test"
        )
    lines = manager.get("/manager/measures/promises_kept.csv").content.decode().splitlines()
    assert lines[0].startswith("at,job,figure,of,unit,what")
    assert sorted(line.split(",")[2] for line in lines[1:]) == ["0", "1"]
    narrowed = manager.get("/manager/measures/promises_kept.csv?payer=Nobody").content.decode().splitlines()
    assert len(narrowed) == 1


def _more(night: Night) -> None:
    night.call()
    yesterday = timezone.now().date() - timedelta(days=1)
    for _ in range(2):
        night.visit(night.cast.job(), due_on=yesterday)


def test_the_queries_of_a_page_do_not_grow(
    night: Night, manager: Client, django_assert_max_num_queries: Any, django_assert_num_queries: Any
) -> None:
    _more(night)
    counts = {}
    for address in PAGES:
        with django_assert_max_num_queries(120) as asked:
            manager.get(address)
        counts[address] = len(asked)
    _more(night)
    for address in PAGES:
        with django_assert_num_queries(counts[address]):
            manager.get(address)
