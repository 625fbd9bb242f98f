"""Twenty thousand requests that nobody should send, to every write there is: each is refused, none breaks anything."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from django.test import Client

from tests.config.api_world import ROLES, World, description, world
from tests.config.hostile import Broken, Target, api_targets, fire, page_targets

ALL = 20_000


@pytest.fixture
def whole(db: None, tmp_path: Path, settings: Any) -> World:
    settings.MEDIA_ROOT = tmp_path
    return world()


@pytest.fixture
def clients(whole: World) -> Mapping[str, Client]:
    found = {}
    for role in ROLES:
        found[role] = Client(raise_request_exception=False)
        found[role].force_login(whole.users[role])
    return found


def api_writes() -> list[Target]:
    return list(api_targets(description()))


@pytest.mark.long
def test_twenty_thousand_break_nothing(whole: World, clients: Mapping[str, Client]) -> None:
    targets = api_writes() + page_targets(whole, clients)
    broken = Broken()
    each = -(-ALL // len(targets)) + 1
    for target in targets:
        fire(target, whole, clients, requests=each, broken=broken)

    print(len(targets), broken.statuses)
    assert not broken.found, str(broken)
    assert broken.statuses.total() >= ALL


def test_some_of_them_break_nothing(whole: World, clients: Mapping[str, Client]) -> None:
    """What is quick enough for every run: a few requests to every third write of the API."""
    broken = Broken()
    for target in api_writes()[::3]:
        fire(target, whole, clients, requests=3, broken=broken)

    assert not broken.found, str(broken)
    assert 400 in broken.statuses
