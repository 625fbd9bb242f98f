"""The desk's promises by the keyboard alone: from the board to another time that was agreed, with a name."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any
from uuid import uuid4

from django.contrib.auth.models import User
from django.utils import timezone
from playwright.sync_api import Page, expect

from jobs import intake
from jobs.models import Area, PromiseEnd
from tests.rooms import browser as by


def test_another_time_is_agreed_from_the_board(desk_page: Page, live_server: Any, enter: Callable[..., User]) -> None:
    area = Area.objects.create(code="lower-columbia", name="Lower Columbia", phone="564-555-0190")
    who = enter(desk_page, "dispatcher")
    now = timezone.now()
    for minutes in (21, 4):
        intake.take_call(
            key=uuid4(), actor=who, now=now - timedelta(minutes=minutes), area_id=area.pk, callback_number="3605550199"
        )
    desk_page.goto(f"{live_server.url}/desk")
    promises = desk_page.get_by_role("region", name="Promises, what breaks first")
    expect(promises.get_by_role("rowheader")).to_have_count(2)
    expect(promises.get_by_role("rowheader").first).to_contain_text("Late by")
    by.holds_on_every_page(desk_page)
    promises.get_by_role("rowheader").last.get_by_role("link").focus()
    desk_page.keyboard.press("Enter")
    expect(desk_page.get_by_role("heading", level=1)).to_contain_text("Call back: 10 min left")
    by.holds_on_every_page(desk_page)
    by.write(desk_page, desk_page.get_by_label("With whom"), "Marisol Tarnwick")
    desk_page.get_by_label("Day").fill((now + timedelta(days=2)).date().isoformat())
    desk_page.get_by_label("Time (").fill("08:00")
    desk_page.get_by_role("button", name="Keep the new time").focus()
    desk_page.keyboard.press("Enter")
    expect(desk_page.get_by_text("Recorded: agreed later")).to_be_visible()
    assert PromiseEnd.objects.get().end == "agreed_later"
