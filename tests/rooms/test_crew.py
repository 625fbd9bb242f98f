"""The crew lead at 360 px, by keyboard alone: refusals beside their fields, and the days before beside today."""

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from playwright.sync_api import Page, expect

from dispatch.emergencies import Sent, send
from jobs import drying
from jobs.drying_values import AirValue, MaterialValue
from tests.dispatch import night as nights
from tests.dispatch.night import NIGHT, Night
from tests.rooms import browser as by
from tests.rooms.conftest import PASSWORD

pytestmark = pytest.mark.django_db(transaction=True)

NARROW = {"width": 360, "height": 800}


@pytest.fixture
def clock() -> Iterator[Any]:
    with time_machine.travel(NIGHT, tick=True) as traveller:
        yield traveller


@pytest.fixture
def night(clock: Any, live_server: Any) -> Night:
    made = nights.night()
    user = made.empty.lead.user
    user.set_password(PASSWORD)
    user.save()
    return made


@pytest.fixture
def sent(night: Night) -> Sent:
    return send(**night.by(night.dispatcher), call_id=night.call(access="side gate"), crew_id=night.empty.pk)


@pytest.fixture
def phone(phone_page: Page, night: Night, sent: Sent, live_server: Any) -> Page:
    phone_page.set_viewport_size(NARROW)
    by.sign_in(phone_page, live_server.url, night.empty.lead.user.username, PASSWORD)
    return phone_page


def do(page: Page, button: str, then: str) -> None:
    by.press(page, page.get_by_role("button", name=button, exact=True))
    expect(page.locator("main")).to_contain_text(then)


def test_a_stop_on_the_narrowest_phone(phone: Page, night: Night, sent: Sent, live_server: Any) -> None:
    by.press(phone, phone.get_by_role("link", name="Open the next stop"))
    expect(phone.get_by_role("button", name="Leaving now")).to_be_visible()
    by.holds_on_every_page(phone)
    do(phone, "Leaving now", "I have arrived")
    do(phone, "I have arrived", "Place equipment")

    by.write(phone, phone.get_by_label("Unit numbers"), "9876 2000")
    phone.keyboard.press("Enter")
    expect(phone.get_by_role("alert")).to_contain_text("No unit has the number 9876")
    numbers = phone.get_by_label("Unit numbers")
    expect(numbers).to_be_focused()
    expect(numbers).to_have_value("9876 2000")
    by.holds_on_every_page(phone)

    for name, value in (("t_inside", "740"), ("h_inside", "58"), ("new_room", "kitchen"), ("new_meter", "pin")):
        by.write(phone, phone.locator(f"#{name}"), value)
    do(phone, "Save readings", "A new point needs its dry standard.")
    expect(phone.get_by_label("Dry standard")).to_be_focused()
    expect(phone.locator("#t_inside")).to_have_value("740")
    by.write(phone, phone.locator("#new_standard"), "10")
    by.write(phone, phone.locator("#new_goal"), "12")
    do(phone, "Save readings", "Is this in °F?")
    expect(phone.locator("#t_inside")).to_be_focused()
    by.write(phone, phone.locator("#t_inside"), "7.4")
    do(phone, "Save readings", "7.4 °F inside is unusual.")
    by.tick(phone, phone.get_by_label("These values are right as typed"))
    do(phone, "Save readings", "Readings saved.")

    by.press(phone, phone.get_by_text("I cannot work here"))
    by.write(phone, phone.get_by_label("Why"), "   ")
    do(phone, "Report and go on", "Say what kept the crew from working.")
    expect(phone.get_by_label("Why")).to_be_focused()


def test_the_days_before_stand_beside_today(
    phone: Page, night: Night, sent: Sent, clock: Any, live_server: Any
) -> None:
    lead = night.empty.lead.user
    drying.add_point(
        **night.by(lead),
        job_id=sent.job_id,
        room_name="kitchen",
        material="drywall",
        meter="pin meter",
        scale="percent_mc",
        dry_standard=10,
        goal=12,
    )
    for hours, value in ((0, 30.0), (24, 25.5), (48, 21.5)):
        now = NIGHT + timedelta(hours=hours - 48)
        drying.record_readings(
            **night.by(lead, now),
            job_id=sent.job_id,
            visit_id=sent.visit_id,
            air=(AirValue("inside", 74, 58), AirValue("outlet", 92, 25, unit_number="2900")),
            materials=(MaterialValue(1, value),),
        )
    phone.goto(f"{live_server.url}/crew/stops/{sent.visit_id}")
    do(phone, "Leaving now", "I have arrived")
    do(phone, "I have arrived", "Last time 21.5")
    main = phone.locator("main")
    # 74 °F at 58 % and sea level hold about 73 grains per pound (psychrometric chart).
    for words in ("before that 25.5", "Falling 4 a day", "grains per pound", "unit 2900", "May be dry between"):
        expect(main).to_contain_text(words)
    by.holds_on_every_page(phone)
