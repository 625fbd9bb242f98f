"""Two dispatchers at one call or job see each other, and neither overwrites the other."""

from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
import time_machine
from django.contrib.auth.models import User
from django.test import Client

from dispatch.models import Presence
from jobs import access, selectors
from jobs.models import Membership
from tests.dispatch.night import NIGHT, Night

SECOND = timedelta(seconds=1)


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    return client


@pytest.fixture
def two(night: Night) -> tuple[Client, Client]:
    other = User.objects.create(username="dana", first_name="Dana", last_name="Quill")
    Membership.objects.create(user=other, area=night.cast.area, role=access.DISPATCHER)
    return signed_in(night.dispatcher), signed_in(other)


def at(seconds: int) -> Any:
    return time_machine.travel(NIGHT + seconds * SECOND, tick=False)


@pytest.mark.parametrize("kind", ["call", "job"])
def test_each_sees_the_other_until_they_close_it(night: Night, two: tuple[Client, Client], kind: str) -> None:
    first, second = two
    pk = night.call() if kind == "call" else night.cast.job().pk
    path = f"/desk/here/{kind}/{pk}"
    with at(0):
        assert "Also here" not in first.post(path).content.decode()
    with at(10):
        assert "dispatcher since 10:47 PM" in second.post(path).content.decode()
        told = first.post(path, {"shown": ""})
        assert "Dana Quill since 10:47 PM" in told.content.decode()
        assert first.get(f"/api/v1/{kind}s/{pk}/here").json()["people"][0]["name"] == "Dana Quill"
    mark = next(part for part in told.content.decode().split('"') if "@" in part)
    with at(20):
        assert second.post(path).status_code == 200
        assert first.post(path, {"shown": mark}).status_code == 204, "nothing new is not read out again"
    with at(60):
        assert "Also here" not in first.post(path, {"shown": mark}).content.decode()
    assert Presence.objects.count() == 2


def test_both_write_one_field_and_both_values_are_shown(night: Night, two: tuple[Client, Client]) -> None:
    first, second = two
    call_id = night.call()
    seen = selectors.call_facts(call_id).versions["street"]
    path = f"/desk/calls/{call_id}/answers"

    def save(who: Client, value: str) -> Any:
        told = {"key": str(uuid4()), "field": "street", "value": value, "seen": seen}
        return who.post(path, told, "application/json")

    assert save(first, "12 Levee Row").status_code == 200
    refused = save(second, "21 Levee Row")
    assert refused.status_code == 409
    told = refused.json()
    assert (told["code"], told["theirs"], told["yours"]) == ("changed_meanwhile", "12 Levee Row", "21 Levee Row")
    assert selectors.call_facts(call_id).answers["street"] == "12 Levee Row"


def test_the_pages_ask_and_nothing_else_is_told(night: Night, two: tuple[Client, Client]) -> None:
    first, _ = two
    call_id, job = night.call(), night.cast.job()
    assert f'hx-post="/desk/here/call/{call_id}"' in first.get(f"/desk/calls/{call_id}").content.decode()
    assert f'hx-post="/desk/here/job/{job.pk}"' in first.get(f"/desk/jobs/{job.number}").content.decode()
    assert first.post("/desk/here/job/999999999").status_code == 404
    assert first.post("/desk/here/unit/1").status_code == 404
    assert signed_in(night.cast.keeper).post(f"/desk/here/call/{call_id}").status_code == 403
