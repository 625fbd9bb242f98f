"""Nothing is loaded from elsewhere, nothing runs inline."""

import pytest
from django.test import Client

from config.security import permissions, policy


def _rules(header: str) -> dict[str, str]:
    return dict(rule.split(" ", 1) for rule in header.split("; "))


@pytest.mark.django_db
@pytest.mark.parametrize("address", ["/sign-in", "/no-such-page"])
def test_every_page_carries_the_policy(client: Client, address: str) -> None:
    answer = client.get(address)
    rules = _rules(answer["Content-Security-Policy"])

    assert answer["Permissions-Policy"] == permissions(address)
    assert rules["default-src"] == "'none'"
    assert rules["script-src"] == rules["style-src"] == "'self'"


def test_only_pictures_may_come_from_the_tile_server() -> None:
    without, with_tiles = _rules(policy("")), _rules(policy("https://{s}.tiles.example/{z}/{x}/{y}.png?key=1"))

    assert without["img-src"] == "'self' data:"
    assert with_tiles == {**without, "img-src": "'self' data: https://*.tiles.example"}


def test_only_a_crews_pages_may_ask_for_camera_and_position() -> None:
    for page in ("/crew", "/crew/stops/7"):
        assert "camera=(self), geolocation=(self)" in permissions(page)
    for page in ("/", "/desk", "/warehouse", "/crewless", "/api/v1/my-position", "/admin/"):
        assert permissions(page).startswith("camera=(), geolocation=(), microphone=()")
