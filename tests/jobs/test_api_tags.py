"""Entity tags over HTTP: RFC 9110, sections 8.8.3, 13.1.1 and 13.1.2."""

from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
from django.contrib.auth.models import User
from django.test import Client

from jobs import access
from jobs.models import Area

Make = Callable[[str], User]


@pytest.fixture
def desk(person: Make) -> Client:
    client = Client()
    client.force_login(person(access.DISPATCHER))
    return client


def post(client: Client, path: str, body: dict[str, Any], key: str = "", **headers: str) -> Any:
    headers = {"Idempotency-Key": key or str(uuid4()), **headers}
    return client.post(f"/api/v1/{path}", body, content_type="application/json", headers=headers)


@pytest.fixture
def call_id(desk: Client) -> int:
    taken = post(desk, "calls", {"area_id": Area.objects.get().pk, "callback_number": "360-555-0142"})
    assert taken.status_code == 201, taken.content
    return int(taken.json()["call_id"])


def test_a_read_is_not_sent_twice(desk: Client, call_id: int) -> None:
    first = desk.get(f"/api/v1/calls/{call_id}")
    again = desk.get(f"/api/v1/calls/{call_id}", headers={"If-None-Match": first["ETag"]})
    assert (again.status_code, again.content, again["ETag"]) == (304, b"", first["ETag"])
    assert desk.get(f"/api/v1/calls/{call_id}", headers={"If-None-Match": '"other"'}).status_code == 200


def test_a_write_on_a_state_that_is_gone_is_refused(desk: Client, call_id: int) -> None:
    seen = desk.get(f"/api/v1/calls/{call_id}")["ETag"]
    key, body = str(uuid4()), {"field": "street", "value": "1 Levee Row", "seen": 0}
    path = f"calls/{call_id}/answers"
    assert post(desk, path, body, key, **{"If-Match": seen}).status_code == 200
    # The same write again is that write, whatever it did to the state.
    assert post(desk, path, body, key, **{"If-Match": seen}).status_code == 200

    other = {"field": "unit", "value": "4", "seen": 0}
    refused = post(desk, path, other, **{"If-Match": seen})
    assert (refused.status_code, refused["Content-Type"]) == (412, "application/problem+json")
    assert refused.json()["code"] == "changed_since"
    now = desk.get(f"/api/v1/calls/{call_id}")
    assert "unit" not in now.json()["answers"]
    assert refused.json()["tag"] == now["ETag"]
    assert post(desk, path, other, **{"If-Match": f'"stale", {now["ETag"]}'}).status_code == 200
