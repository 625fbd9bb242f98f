"""The browser is killed in mid-call, as by a power cut: what was typed into two half-taken calls is there again."""

import os
import signal
import time
from pathlib import Path
from typing import Any

import pytest
from django.contrib.auth.models import User
from playwright.sync_api import BrowserContext, BrowserType, Page, expect

from jobs.models import Area, Call
from tests.rooms import browser as by
from tests.rooms.conftest import PASSWORD

# The browser writes to its disk a moment after the page says what it keeps.
KEPT_AFTER_S = 1
pytestmark = [pytest.mark.long, pytest.mark.django_db(transaction=True)]


def opened(browser_type: BrowserType, profile: Path, arguments: dict[str, Any]) -> BrowserContext:
    return browser_type.launch_persistent_context(profile, viewport=by.DESK, **arguments)


def kill(profile: Path) -> None:
    """SIGKILL to the browser itself; what it started ends with it."""
    mine = f"--user-data-dir={profile}".encode()
    killed = 0
    for process in Path("/proc").glob("[0-9]*"):
        try:
            words = (process / "cmdline").read_bytes().split(b"\0")
        except OSError:
            continue
        if mine in words and not any(word.startswith(b"--type=") for word in words):
            os.kill(int(process.name), signal.SIGKILL)
            killed += 1
    assert killed, "the browser was not found"


def begin(page: Page, address: str, number: str) -> None:
    page.goto(f"{address}/desk/calls/new")
    page.keyboard.type(number)
    page.keyboard.press("Enter")
    expect(page.get_by_label("Street")).to_be_visible()
    page.wait_for_load_state("load")


def test_both_half_taken_calls_are_intact(
    browser_type: BrowserType, browser_type_launch_args: dict[str, Any], live_server: Any, person: Any, tmp_path: Path
) -> None:
    Area.objects.create(code="lower-columbia", name="Lower Columbia", phone="564-555-0190")
    person("dispatcher")
    profile = tmp_path / "profile"
    context = opened(browser_type, profile, browser_type_launch_args)
    first, second = context.pages[0], context.new_page()
    by.sign_in(first, live_server.url, User.objects.get().username, PASSWORD)
    begin(first, live_server.url, "360-555-0141")
    by.write(first, first.get_by_label("Street"), "9 Alder Row")
    by.write(first, first.get_by_label("Town"), "Camas")
    expect(first.locator("#saved")).to_have_text("All saved.")
    begin(second, live_server.url, "360-555-0142")
    by.write(second, second.get_by_label("Street"), "12 Willow Bar Road")
    expect(second.locator("#saved")).to_have_text("All saved.")
    # Of the second, some was typed while the server could not be reached.
    second.route("**/answers", lambda route: route.abort())
    by.write(second, second.get_by_label("Town"), "Washougal")
    by.write(second, second.locator("#room-rows input[data-line]"), "hall 4x18")
    expect(second.locator("#saved")).to_contain_text("2 fields not yet saved")
    addresses = first.url, second.url
    time.sleep(KEPT_AFTER_S)
    kill(profile)
    context.close()

    again = opened(browser_type, profile, browser_type_launch_args)
    again.pages[0].goto(f"{live_server.url}/desk")
    if again.pages[0].get_by_label("Password").count():
        # The sign-in had not reached the disk.
        by.sign_in(again.pages[0], live_server.url, User.objects.get().username, PASSWORD)
    for number, (address, street, town) in enumerate(
        zip(addresses, ("9 Alder Row", "12 Willow Bar Road"), ("Camas", "Washougal"), strict=True)
    ):
        page = again.new_page()
        page.goto(address)
        expect(page.get_by_label("Street")).to_have_value(street)
        expect(page.get_by_label("Town")).to_have_value(town)
        expect(page.locator("#saved")).to_have_text("All saved.")
        call = Call.objects.order_by("pk")[number]
        assert (call.answers["street"], call.answers["town"]) == (street, town)
    assert Call.objects.count() == 2
    assert Call.objects.order_by("pk")[1].rooms[0]["name"] == "hall"
    again.close()
