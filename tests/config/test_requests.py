"""Every request has an id and one line in the log, and no line has anything of anybody."""

import io
import json
import logging
from collections.abc import Callable, Iterator
from typing import Any
from uuid import uuid4

import pytest
from django.contrib.auth.models import User
from django.test import Client, override_settings
from django.urls import path

from config import logs
from jobs import access
from jobs.models import Area, Membership

PRIVATE = {
    "caller_name": "Marisol Tarnwick",
    "callback_number": "564-555-0142",
    "street": "5230 Teasel Field Court",
    "access": "key box 4417",
}


def _breaks(request: Any, number: int) -> Any:
    raise ValueError(f"cannot use {PRIVATE}")


urlpatterns = [path("breaks/<int:number>", _breaks)]


@pytest.fixture
def lines(monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[], list[dict[str, Any]]]]:
    """What was logged, as a company's installation writes it."""
    written = io.StringIO()
    handler = logging.StreamHandler(written)
    handler.setFormatter(logs.JsonLines())
    root, requests = logging.getLogger(), logging.getLogger("config.requests")
    levels = root.level, requests.level
    # Whatever another test's configuration of logging left behind.
    for name in ("django", "django.request", "config", "config.requests"):
        monkeypatch.setattr(logging.getLogger(name), "disabled", False)
        monkeypatch.setattr(logging.getLogger(name), "propagate", True)
    monkeypatch.setattr(logging.root.manager, "disable", 0)
    root.addHandler(handler)
    root.setLevel("DEBUG")
    requests.setLevel("INFO")
    yield lambda: [json.loads(line) for line in written.getvalue().splitlines()]
    root.removeHandler(handler)
    root.setLevel(levels[0])
    requests.setLevel(levels[1])


@pytest.fixture
def desk(db: None, client: Client) -> tuple[Client, int]:
    area = Area.objects.create(code="gorge", name="Gorge")
    user = User.objects.create_user("dana")
    Membership.objects.create(user=user, area=area, role=access.DISPATCHER)
    client.force_login(user)
    return client, area.pk


def test_a_call_leaves_nothing_of_the_caller_in_the_logs(
    desk: tuple[Client, int], lines: Callable[[], list[dict[str, Any]]]
) -> None:
    client, area_id = desk

    def write(address: str, body: dict[str, Any]) -> Any:
        head = {"Idempotency-Key": str(uuid4()), "X-Request-ID": "night-of-the-flood-1"}
        return client.post(address, body, content_type="application/json", headers=head)

    taken = write("/api/v1/calls", {"area_id": area_id, "callback_number": PRIVATE["callback_number"]})
    address = f"/api/v1/calls/{taken.json()['call_id']}/answers"
    for field, value in PRIVATE.items():
        write(address, {"field": field, "value": value, "seen": 0 if field != "callback_number" else 1})
    refused = write(address, {"field": "street", "value": "elsewhere", "seen": 0})
    client.get("/api/v1/jobs", {"stage": PRIVATE["callback_number"]})
    client.post("/sign-in", {"username": PRIVATE["caller_name"], "password": "no"})

    told = lines()
    text = json.dumps(told)
    assert (taken.status_code, refused.status_code) == (201, 409)
    assert taken["X-Request-ID"] == "night-of-the-flood-1"
    answered = [line for line in told if line["logger"] == "config.requests"]
    assert {line["request"] for line in answered[:-2]} == {"night-of-the-flood-1"}
    assert [line["status"] for line in answered if line["view"].endswith("/answers")][-1] == 409
    assert [value for value in PRIVATE.values() if value in text] == []
    assert "Tarnwick" not in text


@override_settings(ROOT_URLCONF="tests.config.test_requests")
def test_a_page_that_breaks_is_logged_by_its_place_and_not_by_its_words(
    client: Client, lines: Callable[[], list[dict[str, Any]]]
) -> None:
    client.raise_request_exception = False

    answer = client.get("/breaks/7", headers={"X-Request-ID": "<script>"})

    told = lines()
    broke = next(line for line in told if "exception" in line)
    assert broke["exception"] == "builtins.ValueError"
    assert any("test_requests.py" in frame for frame in broke["frames"])
    assert "Tarnwick" not in json.dumps(told)
    assert answer["X-Request-ID"] == broke["request"] != "<script>"
    assert next(line for line in told if line["logger"] == "config.requests")["view"] == "breaks/<int:number>"


@pytest.mark.parametrize(
    ("said", "kept"),
    [
        ("call 564-555-0142 now", "call [number] now"),
        ("(564) 555 0142, +15645550142", "[number], [number]"),
        ("to dana@example.org", "to [mail]"),
        ("work 1234567 of 2026-01-16, 4f1e2d3c-5645-5501-4212-000000000001", None),
    ],
)
def test_what_reaches_a_person_is_blotted_out(said: str, kept: str | None) -> None:
    assert logs.blotted(said) == (said if kept is None else kept)
