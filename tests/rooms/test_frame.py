"""The door of the house: signing in, the rooms, and what a page says when something is wrong."""

from collections.abc import Callable
from typing import Any

from django.contrib.auth.models import User
from playwright.sync_api import Page, expect

from tests.rooms import browser as by


def test_sign_in_page(any_page: Page, live_server: Any) -> None:
    any_page.goto(f"{live_server.url}/sign-in")

    by.holds_on_every_page(any_page)


def test_wrong_password_is_said_in_place(desk_page: Page, live_server: Any, person: Callable[..., User]) -> None:
    person("dispatcher", username="dana")
    desk_page.goto(f"{live_server.url}/sign-in")
    by.write(desk_page, desk_page.get_by_label("Username"), "dana")
    by.write(desk_page, desk_page.get_by_label("Password"), "not this one")
    desk_page.keyboard.press("Enter")

    expect(desk_page.get_by_role("alert")).to_contain_text("password is not right")
    expect(desk_page.get_by_label("Username")).to_have_value("dana")
    by.holds_on_every_page(desk_page)


def test_page_that_does_not_exist_keeps_the_rooms(
    phone_page: Page, live_server: Any, enter: Callable[..., User]
) -> None:
    enter(phone_page, "manager")

    phone_page.goto(f"{live_server.url}/no-such-page")

    expect(phone_page.get_by_role("heading", level=1)).to_have_text("There is no such page")
    expect(phone_page.get_by_role("navigation", name="Rooms").get_by_role("link")).to_have_count(5)
    by.holds_on_every_page(phone_page)


def test_skip_link_comes_first(desk_page: Page, live_server: Any) -> None:
    desk_page.goto(f"{live_server.url}/no-such-page")

    desk_page.keyboard.press("Tab")

    expect(desk_page.get_by_role("link", name="Skip to the page")).to_be_focused()


def test_lost_network_is_said_and_taken_back(phone_page: Page, live_server: Any) -> None:
    phone_page.goto(f"{live_server.url}/sign-in")
    notice = phone_page.get_by_text("The network is gone.")
    expect(notice).to_be_hidden()

    phone_page.context.set_offline(True)
    expect(notice).to_be_visible()

    phone_page.context.set_offline(False)
    expect(notice).to_be_hidden()


def test_form_is_sent_once(desk_page: Page, live_server: Any) -> None:
    desk_page.goto(f"{live_server.url}/sign-in")
    desk_page.get_by_label("Username").fill("dana")
    desk_page.get_by_label("Password").fill("no")

    # Heard after the page's own listener; the form itself is kept here, so that it can be pressed again.
    held_back = desk_page.evaluate(
        """() => {
            const heldBack = [];
            window.addEventListener("submit", (event) => {
                heldBack.push(event.defaultPrevented);
                event.preventDefault();
            });
            const form = document.querySelector("main form");
            form.requestSubmit();
            form.requestSubmit();
            return heldBack;
        }"""
    )

    assert held_back == [False, True]
