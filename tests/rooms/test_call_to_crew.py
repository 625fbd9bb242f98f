"""From the first ring to the crew asked, by keyboard alone, within what a night allows: 60 s of typing, 90 presses."""

from collections.abc import Callable
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.utils import timezone
from playwright.sync_api import Locator, Page, expect

from dispatch.models import CallOut
from equipment.models import Reservation, Vehicle
from jobs.models import Call, Job
from tests.dispatch import night as nights
from tests.rooms import browser as by
from tests.rooms.conftest import PASSWORD

pytestmark = pytest.mark.django_db(transaction=True)
TYPED_PER_S = 5
ROOMS = (
    "kitchen 13x15 floor 90",
    "dining 12x13 floor 60",
    "living 15x19",
    "bath 8x10 walls",
    "hall 4x18",
    "bedroom 12x14",
)


class Hands:
    """Two hands on a keyboard: what they typed, and which other keys they pressed."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.typed = 0
        self.pressed = 0

    def type(self, text: str) -> None:
        self.page.keyboard.type(text)
        self.typed += len(text)

    def press(self, key: str, times: int = 1) -> None:
        for _ in range(times):
            self.page.keyboard.press(key)
        self.pressed += times

    def go_to(self, target: Locator) -> None:
        while not target.evaluate("element => element === document.activeElement"):
            self.press("Tab")
            assert self.pressed < 200, f"{target} cannot be reached"


@pytest.fixture
def tonight(transactional_db: None) -> nights.Night:
    """The small night, moved to now."""
    night = nights.night()
    nights.move_to(night, timezone.now())
    Vehicle.objects.update(capacity={"air_mover": 30, "lgr": 6, "volume_cuft": 400})
    night.dispatcher.set_password(PASSWORD)
    night.dispatcher.save()
    return night


@pytest.fixture
def at_the_desk(desk_page: Page, live_server: Any, tonight: nights.Night) -> Page:
    by.sign_in(desk_page, live_server.url, tonight.dispatcher.username, PASSWORD)
    desk_page.goto(f"{live_server.url}/desk")
    return desk_page


def _take_the_call(hands: Hands) -> None:
    page = hands.page
    hands.go_to(page.get_by_role("button", name="New call"))
    hands.press("Enter")
    expect(page.get_by_label("Callback number")).to_be_focused()
    hands.type("3605550199")
    hands.press("Tab", 2)
    hands.type("Marisol Tarnwick")
    hands.press("Tab")
    hands.type("ow")
    hands.press("Tab")
    hands.type("5230 Teasel Field Ct")
    hands.press("Tab", 2)
    hands.type("98664")
    hands.go_to(page.get_by_label("Where is the water from?"))
    hands.type("su")
    hands.press("Tab")
    hands.type("sto")
    hands.press("Tab")
    hands.type("on")
    hands.press("Tab")
    hands.type("1")
    hands.press("Tab")
    hands.type("2")
    hands.press("Tab")
    for room in ROOMS:
        hands.type(room)
        hands.press("Enter")
    hands.press("Enter")
    hands.type("ho")
    hands.press("Tab")
    hands.type("1992")
    hands.press("Tab", 4)
    hands.type("owner")
    hands.press("Tab", 2)
    hands.type("owner")


def test_six_rooms_of_clean_water_to_the_crew_asked(at_the_desk: Page, tonight: nights.Night) -> None:
    hands = Hands(at_the_desk)
    _take_the_call(hands)
    hands.press("Control+Enter")
    expect(at_the_desk.get_by_role("button", name="Send N1")).to_be_focused()
    hands.press("Enter")

    expect(at_the_desk.get_by_role("heading", name="Say back")).to_be_visible()
    call, job = Call.objects.get(), Job.objects.get(number__startswith="J-", calls__isnull=False)
    assert (call.ended_as, call.job) == ("sent", job)
    assert [room["name"] for room in call.rooms] == [line.split()[0] for line in ROOMS]
    assert (job.water_source, job.running, job.power, job.category, job.year_built) == (
        "supply_line", "stopped", "on", 1, 1992
    )  # fmt: skip
    assert CallOut.objects.get().crew == tonight.ready
    assert Reservation.objects.filter(job=job).exists()
    assert hands.typed / TYPED_PER_S <= 60, f"{hands.typed} characters"
    assert hands.pressed <= 90


def test_each_crew_stands_in_one_list_with_its_reason(at_the_desk: Page) -> None:
    hands = Hands(at_the_desk)
    _take_the_call(hands)
    hands.press("Control+Enter")
    offers = at_the_desk.locator("#offers")

    expect(offers.get_by_role("button", name="Send N1")).to_be_focused()
    expect(offers.get_by_role("heading", name="N2")).to_be_visible()
    expect(offers.get_by_role("listitem").filter(has_text="N3")).to_contain_text("card lapsed")
    by.holds_on_every_page(at_the_desk)


def test_the_say_back_holds_on_any_screen(
    any_page: Page, live_server: Any, tonight: nights.Night, enter: Callable[..., User]
) -> None:
    from dispatch.emergencies import send

    call_id = tonight.call(hazards="ceiling")
    send(**tonight.by(tonight.dispatcher, timezone.now()), call_id=call_id, crew_id=tonight.ready.pk)
    by.sign_in(any_page, live_server.url, tonight.dispatcher.username, PASSWORD)
    any_page.goto(f"{live_server.url}/desk/calls/{call_id}")

    expect(any_page.get_by_text("Our crew will be at your door at about")).to_be_visible()
    expect(any_page.get_by_text("Put nothing and nobody under the ceiling")).to_be_visible()
    by.holds_on_every_page(any_page)


def test_two_calls_half_taken_at_once_are_both_safe(at_the_desk: Page, live_server: Any) -> None:
    for town in ("Camas", "Washougal"):
        at_the_desk.goto(f"{live_server.url}/desk")
        by.press(at_the_desk, at_the_desk.get_by_role("button", name="New call"))
        expect(at_the_desk.get_by_label("Callback number")).to_be_focused()
        by.write(at_the_desk, at_the_desk.get_by_label("Town"), town)
        expect(at_the_desk.locator("#saved")).to_have_text("All saved.")

    at_the_desk.goto(f"{live_server.url}/desk")
    by.press(at_the_desk, at_the_desk.get_by_role("link", name="Call of").first)
    expect(at_the_desk.get_by_label("Town")).to_have_value("Camas")
