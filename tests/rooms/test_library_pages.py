"""Pages that libraries bring work under our content security policy: any violation is an error on the console."""

from collections.abc import Callable
from typing import Any

from django.contrib.auth.models import User
from playwright.sync_api import Page, expect


def test_api_page_shows_every_operation(desk_page: Page, live_server: Any, enter: Callable[..., User]) -> None:
    enter(desk_page, "dispatcher")

    desk_page.goto(f"{live_server.url}/api/v1/docs")

    expect(desk_page.locator(".opblock").first).to_be_visible()


def test_master_data_pages(desk_page: Page, live_server: Any, enter: Callable[..., User]) -> None:
    enter(desk_page, "manager")
    desk_page.goto(f"{live_server.url}/admin/")
    expect(desk_page.get_by_role("heading", name="Site administration")).to_be_visible()

    desk_page.goto(f"{live_server.url}/admin/jobs/area/add/")
    desk_page.get_by_label("Code").fill("north")
    desk_page.get_by_label("Name:", exact=True).fill("North")
    desk_page.get_by_role("button", name="Save", exact=True).click()

    expect(desk_page.get_by_text("was added successfully")).to_be_visible()
