"""The phone's position: never without the lead's own press, with each report after it, also from the phone's store."""

from collections.abc import Iterator
from typing import Any

import pytest
import time_machine
from playwright.sync_api import Browser, Page, expect

from dispatch.emergencies import send
from dispatch.models import PhonePosition
from jobs.models import UseCaseCall
from tests.dispatch import night as nights
from tests.dispatch.night import NIGHT, Night
from tests.rooms import browser as by
from tests.rooms.conftest import ON_A_PHONE, PASSWORD

pytestmark = pytest.mark.django_db(transaction=True)
PLACE = {"latitude": 45.68, "longitude": -122.55, "accuracy": 8}


@pytest.fixture
def night(live_server: Any) -> Iterator[Night]:
    with time_machine.travel(NIGHT, tick=True):
        made = nights.night()
        user = made.empty.lead.user
        user.set_password(PASSWORD)
        user.save()
        send(**made.by(made.dispatcher), call_id=made.call(), crew_id=made.empty.pk)
        yield made


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    context = browser.new_context(reduced_motion="reduce", geolocation=PLACE, permissions=["geolocation"], **ON_A_PHONE)
    made = context.new_page()
    made.add_init_script(
        "const real = navigator.geolocation.getCurrentPosition.bind(navigator.geolocation); window.asked = 0;"
        "navigator.geolocation.getCurrentPosition = (...given) => { window.asked += 1; real(...given); };"
    )
    yield made
    context.close()


def press(page: Page, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).click()


@pytest.mark.long
def test_only_once_allowed_and_then_with_each_report(night: Night, live_server: Any, page: Page) -> None:
    by.sign_in(page, live_server.url, night.empty.lead.user.username, PASSWORD)
    page.goto(f"{live_server.url}/crew")
    allow = page.get_by_role("button", name="Send my position with my reports")
    expect(allow).to_be_visible()
    by.targets_are_large(page)
    by.axe_clean(page)

    page.get_by_role("link", name="Open the next stop").click()
    press(page, "Leaving now")
    expect(page.get_by_role("button", name="I have arrived")).to_be_visible()
    assert page.evaluate("window.asked") == 0
    assert not PhonePosition.objects.exists()

    page.goto(f"{live_server.url}/crew")
    # A browser under test dates its position by when it was set.
    page.context.set_geolocation(PLACE)
    allow.click()
    expect(page.get_by_text("It goes with your reports.")).to_be_visible()
    expect(page.get_by_text("by the phone")).to_be_visible()
    assert PhonePosition.objects.get().lat == PLACE["latitude"]
    by.no_sideways_scroll(page)

    expect(page.locator("body[data-kept]")).to_be_attached()
    page.context.set_geolocation(PLACE | {"latitude": 45.69})
    page.context.set_offline(True)
    page.get_by_role("link", name="Open the next stop").click()
    page.evaluate("new Promise((done) => setInterval(() => window.asked && done(), 50))")
    press(page, "I have arrived")
    expect(page.locator("#outbox summary")).to_have_text("1 not yet sent")
    assert not UseCaseCall.objects.filter(verb="arrive_at_stop").exists()
    page.context.set_offline(False)
    expect(page.locator("#outbox")).to_be_hidden()
    assert UseCaseCall.objects.filter(verb="arrive_at_stop").exists()
    assert PhonePosition.objects.get().lat == 45.69

    page.goto(f"{live_server.url}/crew")
    press(page, "Stop sending it and erase it")
    expect(allow).to_be_visible()
    expect(page.get_by_text("no longer sent")).to_be_visible()
    assert not PhonePosition.objects.exists()
