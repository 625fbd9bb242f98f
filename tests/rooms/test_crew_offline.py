"""A crew's stop without a network from leaving to done: kept on the phone, sent once, in order, at its own times."""

from collections.abc import Iterator
from typing import Any

import pytest
import time_machine
from playwright.sync_api import Browser, BrowserContext, Page, expect

from dispatch.emergencies import send
from jobs.models import AirReading, UseCaseCall, Visit
from tests.dispatch import night as nights
from tests.dispatch.night import NIGHT, Night
from tests.rooms import browser as by
from tests.rooms.conftest import ON_A_PHONE, PASSWORD

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def night(live_server: Any) -> Iterator[Night]:
    with time_machine.travel(NIGHT, tick=True):
        made = nights.night()
        user = made.empty.lead.user
        user.set_password(PASSWORD)
        user.save()
        send(**made.by(made.dispatcher), call_id=made.call(access="side gate"), crew_id=made.empty.pk)
        yield made


@pytest.fixture
def context(browser: Browser) -> Iterator[BrowserContext]:
    made = browser.new_context(reduced_motion="reduce", **ON_A_PHONE)
    yield made
    made.close()


def press(page: Page, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).click()


@pytest.mark.long
def test_a_stop_without_a_network(night: Night, live_server: Any, context: BrowserContext) -> None:
    page = context.new_page()
    by.sign_in(page, live_server.url, night.empty.lead.user.username, PASSWORD)
    page.goto(f"{live_server.url}/crew")
    expect(page.locator("body[data-kept]")).to_be_visible()
    assert page.evaluate("fetch(document.querySelector('link[rel=manifest]').href).then(a => a.json())")["icons"]

    context.set_offline(True)
    page.get_by_role("link", name="Open the next stop").click()
    press(page, "Leaving now")
    expect(page.locator("#kept-note")).to_contain_text("kept on this device")
    press(page, "I have arrived")
    expect(page.get_by_role("heading", name="Place equipment")).to_be_visible()
    page.close()

    page = context.new_page()
    page.goto(f"{live_server.url}/crew")
    expect(page.locator("#outbox summary")).to_have_text("2 not yet sent")
    page.get_by_role("link", name="Open the next stop").click()
    page.locator("#t_inside").fill("74")
    page.locator("#h_inside").fill("58")
    press(page, "Save readings")
    expect(page.locator("#outbox summary")).to_have_text("3 not yet sent")
    page.locator("#numbers").fill("9876")
    press(page, "They stand here now")
    press(page, "Done here")
    expect(page.locator("#outbox summary")).to_have_text("5 not yet sent")
    by.no_sideways_scroll(page)
    assert not Visit.objects.filter(left_at__isnull=False).exists()

    context.set_offline(False)
    mark = page.locator("#outbox summary")
    expect(mark).to_have_text("1 refused: please decide")
    mark.click()
    expect(page.locator("#outbox .outbox-sides")).to_contain_text("9876")
    expect(page.locator("#outbox .refusal")).to_contain_text("No unit has the number 9876")
    by.no_sideways_scroll(page)

    sent = UseCaseCall.objects.filter(actor=night.empty.lead.user, outcome="done").order_by("pk")
    assert list(sent.values_list("verb", flat=True)) == [
        "leave_for_stop",
        "arrive_at_stop",
        "record_stop_readings",
        "finish_stop",
    ]
    visit = Visit.objects.get(finished_at__isnull=False)
    reading = AirReading.objects.get(where="inside")
    assert visit.left_at
    assert visit.arrived_at
    assert visit.finished_at
    assert visit.left_at < visit.arrived_at < reading.taken_at < visit.finished_at < reading.recorded_at
