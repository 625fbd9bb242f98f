"""
A whole day without a network: seven stops, reloads, a closed browser, a second phone, a session that ran out. All of it
arrives once, in the order in which it happened, under its own times; what cannot both be true stands side by side.
"""

from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.contrib.sessions.models import Session
from playwright.sync_api import Browser, BrowserContext, BrowserType, Page, expect

from dispatch.models import Stop
from jobs.models import AirReading, JournalEntry, MaterialPoint, MaterialReading, UseCaseCall, Visit
from tests.dispatch import night as nights
from tests.dispatch.night import NIGHT, Night
from tests.rooms import browser as by
from tests.rooms.conftest import ON_A_PHONE, PASSWORD

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.long]

STOPS = 7
STEPS = ["leave_for_stop", "arrive_at_stop", "record_stop_readings", "finish_stop"]
PHONE = {"reduced_motion": "reduce", **ON_A_PHONE, "viewport": {"width": 360, "height": 800}}


@pytest.fixture
def night(live_server: Any) -> Iterator[Night]:
    """A crew with seven stops, each with one point that was marked the day before."""
    with time_machine.travel(NIGHT, tick=True):
        made = nights.night()
        user = made.empty.lead.user
        user.set_password(PASSWORD)
        user.save()
        for position in range(1, STOPS + 1):
            job = made.cast.job(stage="drying")
            visit = made.visit(job, due_on=made.empty.service_day)
            at = NIGHT + timedelta(minutes=40 * position)
            Stop.objects.create(crew=made.empty, visit=visit, position=position, arrive_at=at, start_at=at, leave_at=at)
            MaterialPoint.objects.create(
                job=job, number=1, room_name="kitchen", material="drywall", meter="pin", scale="percent_mc",
                dry_standard=10, goal=12,
            )  # fmt: skip
        yield made


def enter(page: Page, night: Night, address: str) -> None:
    by.sign_in(page, address, night.empty.lead.user.username, PASSWORD)
    page.goto(f"{address}/crew")
    expect(page.locator("body[data-kept]")).to_be_visible()


def press(page: Page, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).click()


def waiting(page: Page, count: int) -> None:
    expect(page.locator("#outbox summary")).to_contain_text(f"{count} not yet sent")


def until(page: Page, so: Callable[[], bool]) -> None:
    """Wait until the server has it: the mark is hidden, too, before a page has looked what waits."""
    for _ in range(600):
        if so():
            return
        page.wait_for_timeout(200)
    raise AssertionError("not in two minutes")


def sent(night: Night) -> list[tuple[str, int]]:
    """What the server has done for the lead, in order: the use case and its visit."""
    calls = UseCaseCall.objects.filter(actor=night.empty.lead.user, outcome="done", verb__in=STEPS).order_by("pk")
    return [(call.verb, call.arguments["visit_id"]) for call in calls]


def test_seven_stops_with_reloads_and_a_closed_browser(
    night: Night, live_server: Any, browser_type: BrowserType, browser_type_launch_args: dict[str, Any], tmp_path: Path
) -> None:
    visits = list(Visit.objects.filter(stop__crew=night.empty).order_by("stop__position").values_list("pk", flat=True))

    def on() -> BrowserContext:
        return browser_type.launch_persistent_context(tmp_path / "phone", **browser_type_launch_args, **PHONE)

    phone = on()
    page = phone.new_page()
    enter(page, night, live_server.url)
    phone.set_offline(True)
    for number, visit_id in enumerate(visits):
        page.goto(f"{live_server.url}/crew/stops/{visit_id}")
        press(page, "Leaving now")
        waiting(page, number * len(STEPS) + 1)
        if number == 1:
            page.reload()
        press(page, "I have arrived")
        waiting(page, number * len(STEPS) + 2)
        if number == 3:
            # The phone dies in the middle of a stop.
            phone.close()
            phone = on()
            phone.set_offline(True)
            page = phone.new_page()
            page.goto(f"{live_server.url}/crew/stops/{visit_id}")
        page.locator("#t_inside").fill(str(70 + number))
        page.locator("#h_inside").fill("55")
        expect(page.locator("fieldset[data-place=inside] [data-grains]")).to_contain_text("grains per pound")
        page.locator(f"#p_{MaterialPoint.objects.get(job__visits=visit_id).pk}").fill(str(20 + number))
        press(page, "Save readings")
        waiting(page, number * len(STEPS) + 3)
        press(page, "Done here")
        waiting(page, number * len(STEPS) + 4)
    by.no_sideways_scroll(page)
    assert sent(night) == []

    phone.set_offline(False)
    page.goto(f"{live_server.url}/crew")
    until(page, lambda: len(sent(night)) >= STOPS * len(STEPS))
    expect(page.locator("#outbox")).to_be_hidden()
    phone.close()

    assert sent(night) == [(verb, visit_id) for visit_id in visits for verb in STEPS]
    times = [
        at
        for visit in Visit.objects.filter(pk__in=visits).order_by("stop__position")
        for at in (visit.left_at, visit.arrived_at, visit.airreadings.get().taken_at, visit.finished_at)
    ]
    assert times == sorted(times)
    assert [row.dry_bulb_f for row in AirReading.objects.order_by("taken_at")] == [70 + n for n in range(STOPS)]
    assert [row.value for row in MaterialReading.objects.order_by("taken_at")] == [20 + n for n in range(STOPS)]
    assert all(row.recorded_at > row.taken_at for row in AirReading.objects.all())


def test_two_phones_of_one_crew(night: Night, live_server: Any, browser: Browser) -> None:
    visit_id = Visit.objects.filter(stop__crew=night.empty).order_by("stop__position").values_list("pk", flat=True)[0]
    phones = [browser.new_context(**PHONE) for _ in range(2)]
    pages = [phone.new_page() for phone in phones]
    for phone, page in zip(phones, pages, strict=True):
        enter(page, night, live_server.url)
        phone.set_offline(True)
    for number, page in enumerate(pages):
        page.goto(f"{live_server.url}/crew/stops/{visit_id}")
        press(page, "Leaving now")
        waiting(page, 1)
        press(page, "I have arrived")
        waiting(page, 2)
        page.locator("#t_inside").fill(str(70 + number))
        page.locator("#h_inside").fill("55")
        press(page, "Save readings")
        waiting(page, 3)
        press(page, "Done here")
        waiting(page, 4)

    phones[0].set_offline(False)
    pages[0].goto(f"{live_server.url}/crew")
    until(pages[0], lambda: len(sent(night)) == len(STEPS))
    expect(pages[0].locator("#outbox")).to_be_hidden()
    first = Visit.objects.get(pk=visit_id)
    phones[1].set_offline(False)
    pages[1].goto(f"{live_server.url}/crew")
    # Both were there, and both readings are kept; that the visit was over already is shown, not written over.
    mark = pages[1].locator("#outbox summary")
    expect(mark).to_have_text("3 refused: please decide", timeout=60_000)
    mark.click()
    side = pages[1].locator("#outbox .outbox-sides").last
    expect(side).to_contain_text("Done here")
    expect(side).to_contain_text("This visit is over: done.")
    by.no_sideways_scroll(pages[1])
    by.axe_clean(pages[1])
    second = Visit.objects.get(pk=visit_id)
    assert (second.left_at, second.arrived_at, second.finished_at) == (
        first.left_at, first.arrived_at, first.finished_at,
    )  # fmt: skip
    assert sorted(AirReading.objects.values_list("dry_bulb_f", flat=True)) == [70, 71]
    assert [verb for verb, _ in sent(night)] == [*STEPS, "record_stop_readings"]
    for phone in phones:
        phone.close()


def test_a_session_that_ran_out_loses_nothing(night: Night, live_server: Any, browser: Browser) -> None:
    visit_id = Visit.objects.filter(stop__crew=night.empty).order_by("stop__position").values_list("pk", flat=True)[0]
    phone = browser.new_context(**PHONE)
    page = phone.new_page()
    enter(page, night, live_server.url)
    phone.set_offline(True)
    page.goto(f"{live_server.url}/crew/stops/{visit_id}")
    press(page, "Leaving now")
    waiting(page, 1)
    press(page, "I have arrived")
    waiting(page, 2)

    Session.objects.all().delete()
    phone.set_offline(False)
    mark = page.locator("#outbox summary")
    expect(mark).to_have_text("2 not yet sent: sign in again to send", timeout=60_000)
    assert sent(night) == []
    mark.click()
    page.get_by_role("link", name="Sign in to send").click()
    expect(page.locator("#outbox summary")).to_contain_text("2 not yet sent")
    by.sign_in(page, live_server.url, night.empty.lead.user.username, PASSWORD)
    until(page, lambda: len(sent(night)) == 2)
    expect(page.locator("#outbox")).to_be_hidden()
    assert sent(night) == [("leave_for_stop", visit_id), ("arrive_at_stop", visit_id)]
    kinds = JournalEntry.objects.filter(kind__in=["crew_left", "crew_arrived"]).values_list("kind", flat=True)
    assert list(kinds.order_by("happened_at")) == ["crew_left", "crew_arrived"]
    phone.close()


SMALL = """() => [...document.querySelectorAll('main a, main button, main input, main select, main summary')]
    .filter(each => each.getClientRects().length && !['hidden', 'checkbox', 'radio'].includes(each.type))
    .map(each => [each.outerHTML.slice(0, 90), each.getBoundingClientRect()])
    .filter(([, box]) => box.height < 43.5 || box.width < 43.5).map(([what]) => what)"""


def test_fourteen_points_take_their_digits_and_one_tap_each(night: Night, live_server: Any, browser: Browser) -> None:
    visit = Visit.objects.filter(stop__crew=night.empty).order_by("stop__position")[0]
    MaterialPoint.objects.bulk_create(
        MaterialPoint(
            job=visit.job, number=number, room_name="hall", material="drywall", meter="pin", scale="percent_mc",
            dry_standard=10, goal=12,
        )
        for number in range(2, 15)
    )  # fmt: skip
    phone = browser.new_context(**PHONE)
    page = phone.new_page()
    by.sign_in(page, live_server.url, night.empty.lead.user.username, PASSWORD)
    page.goto(f"{live_server.url}/crew")
    assert page.evaluate(SMALL) == []
    page.goto(f"{live_server.url}/crew/stops/{visit.pk}")
    press(page, "Leaving now")
    expect(page.get_by_role("button", name="I have arrived")).to_be_visible()
    # The answer leads to the page anew; a tap in between would be one on the page that goes.
    page.wait_for_load_state("networkidle")
    press(page, "I have arrived")
    expect(page.get_by_role("heading", name="Readings")).to_be_visible()
    assert page.evaluate(SMALL) == []
    taps = 0
    for point in MaterialPoint.objects.filter(job=visit.job).order_by("number"):
        page.locator(f"#p_{point.pk}").tap()
        page.keyboard.type("21.5")
        taps += 1 + len("21.5")
    page.get_by_role("button", name="Save readings").tap()
    taps += 1
    expect(page.locator("main")).to_contain_text("Readings saved.")
    assert MaterialReading.objects.filter(point__job=visit.job, value=21.5).count() == 14
    # At 2.5 taps a second under three minutes, with room to read the meter.
    assert taps / 2.5 < 180 / 4
    phone.close()
