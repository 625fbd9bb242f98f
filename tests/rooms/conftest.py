"""The cast of the rooms, and browsers that fail a test when the page complains."""

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.contrib.auth.models import User
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, expect

from jobs.models import Membership
from tests.rooms import browser as by

PASSWORD = "a long night by the pump"
# A refused form answers with a status above 400, which the console notes, and htmx too; everything else is a fault.
EXPECTED = ("Failed to load resource: the server responded with a status of 4", "Response Status Error Code 4")
ON_A_PHONE: dict[str, Any] = {"viewport": by.PHONE, "has_touch": True, "is_mobile": True, "device_scale_factor": 2}

expect.set_options(timeout=30_000)


@pytest.fixture
def person(db: None) -> Callable[..., User]:
    """Make a user with roles: `person("dispatcher")`, or `person("crew_lead", username="lee")`."""

    def make(*roles: str, username: str = "", **details: Any) -> User:
        user = User.objects.create_user(username=username or "-".join(roles), password=PASSWORD, **details)
        if "manager" in roles:
            user.is_staff = user.is_superuser = True
            user.save()
        Membership.objects.bulk_create(Membership(user=user, role=role) for role in roles)
        return user

    return make


@pytest.fixture
def desk_page(browser: Browser) -> Iterator[Page]:
    """A page as wide as a desk's screen; the test fails when the page wrote an error to its console."""
    yield from _page(browser, viewport=by.DESK)


@pytest.fixture
def phone_page(browser: Browser) -> Iterator[Page]:
    """A page as wide as a phone, with touch; the test fails when the page wrote an error to its console."""
    yield from _page(browser, **ON_A_PHONE)


@pytest.fixture(params=["desk", "phone"])
def any_page(browser: Browser, request: pytest.FixtureRequest) -> Iterator[Page]:
    """Both of them in turn: a wide page in the light, a phone in the dark."""
    if request.param == "desk":
        yield from _page(browser, viewport=by.DESK, color_scheme="light")
    else:
        yield from _page(browser, **ON_A_PHONE, color_scheme="dark")


def _page(browser: Browser, **device: Any) -> Iterator[Page]:
    context: BrowserContext = browser.new_context(reduced_motion="reduce", **device)
    faults: list[str] = []

    def note(message: ConsoleMessage) -> None:
        if message.type == "error" and not message.text.startswith(EXPECTED):
            faults.append(message.text)

    page = context.new_page()
    page.on("console", note)
    page.on("pageerror", lambda error: faults.append(str(error)))
    yield page
    context.close()
    assert faults == []


@pytest.fixture
def enter(live_server: Any, person: Callable[..., User]) -> Callable[..., User]:
    """Make a person and sign them in: `enter(desk_page, "dispatcher")`; the address is then `live_server.url`."""

    def sign_in(page: Page, *roles: str, **details: Any) -> User:
        user = person(*roles, **details)
        by.sign_in(page, live_server.url, user.username, PASSWORD)
        return user

    return sign_in
