"""Wrong passwords close the sign-in: by account and by address, for pages and for the API."""

import base64
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.test import Client, RequestFactory

from config.addresses import client_address
from config.env import networks


def _basic(name: str, password: str) -> dict[str, str]:
    return {"Authorization": "Basic " + base64.b64encode(f"{name}:{password}".encode()).decode()}


@pytest.mark.django_db
@pytest.mark.parametrize("door", ["page", "api"])
def test_one_account_closes_and_says_for_how_long(client: Client, settings: Any, door: str) -> None:
    settings.AXES_FAILURE_LIMIT = 3
    User.objects.create_user("dana", password="alder-switch-lane")

    def knock(name: str, password: str) -> Any:
        if door == "page":
            return client.post("/sign-in", {"username": name, "password": password})
        return client.get("/api/v1/areas", headers=_basic(name, password))

    assert [knock("dana", "no").status_code for _ in range(3)] == [200 if door == "page" else 401] * 2 + [429]
    closed = knock("dana", "alder-switch-lane")
    assert (closed.status_code, closed["Retry-After"]) == (429, "900")
    assert "15 minutes" in closed.text
    assert door == "page" or closed.json()["code"] == "too_many_sign_ins"
    assert knock("somebody", "no").status_code != 429


@pytest.mark.django_db
def test_many_accounts_from_one_address_close_the_address(client: Client, settings: Any) -> None:
    settings.AXES_FAILURE_LIMIT = 3
    answers = [client.post("/sign-in", {"username": f"n{n}", "password": "no"}).status_code for n in range(15)]

    assert answers == [200] * 14 + [429]
    elsewhere = client.post("/sign-in", {"username": "n99", "password": "no"}, REMOTE_ADDR="203.0.113.9")
    assert elsewhere.status_code == 200


def test_the_address_is_the_nearest_that_is_no_proxy(settings: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    def asked(said: str, remote: str = "127.0.0.1") -> str:
        head = {"HTTP_X_FORWARDED_FOR": said} if said else {}
        return client_address(RequestFactory().get("/", REMOTE_ADDR=remote, **head))

    monkeypatch.setenv("EBBLINE_PROXIES", "127.0.0.1, 10.0.0.0/8")
    settings.PROXIES = networks("EBBLINE_PROXIES")
    assert asked("1.2.3.4, 198.51.100.7, 10.0.0.3") == "198.51.100.7"
    assert asked("198.51.100.7", remote="") == "198.51.100.7"
    assert asked("1.2.3.4", remote="203.0.113.9") == "203.0.113.9"
    settings.PROXIES = ()
    assert asked("1.2.3.4") == "127.0.0.1"
