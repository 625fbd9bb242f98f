"""A job's sizing in a browser: sized, read with its working, and the lead's figure kept beside it."""

from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
from django.contrib.auth.models import User
from django.utils import timezone
from playwright.sync_api import Page, expect

from jobs import intake
from jobs.models import Area, Chamber, Job, Room
from tests.equipment.cast import make
from tests.equipment.sizing.losses import run_of_wall, wet_room
from tests.rooms import browser as by


@pytest.fixture
def job(db: None) -> Job:
    job = make().job(circuits=[{"breaker_a": 15, "reserved_a": 0}, {"breaker_a": 20, "reserved_a": 4}])
    ground = Chamber.objects.create(job=job, name="ground floor")
    cellar = Chamber.objects.create(job=job, name="cellar", dehumidifier="conventional", bound_water=True)
    runs = [run_of_wall(), run_of_wall(fire_rated=True)]
    drywall = [{"material": "drywall", "area_sqft": 96, "covering": "paint"}]
    Room.objects.create(chamber=ground, name="kitchen", measures=wet_room(wall_runs=runs, materials=drywall))
    Room.objects.create(chamber=ground, name="hall", measures=wet_room(wet_wood_floor_sqft=60))
    Room.objects.create(chamber=cellar, name="den", measures=wet_room())
    return job


def test_size_again_and_keep_the_leads_figure(
    live_server: Any, job: Job, any_page: Page, enter: Callable[..., User]
) -> None:
    enter(any_page, "dispatcher", username="desk")
    any_page.goto(f"{live_server.url}/desk/jobs/{job.number}")
    by.press(any_page, any_page.get_by_role("button", name="Size now"))
    expect(any_page.get_by_text("Refused, each for its part alone")).to_be_visible()
    expect(any_page.get_by_text("1152 / 50 = 23.04")).to_be_hidden()

    for summary in any_page.locator("main summary").all():
        summary.click()
    by.holds_on_every_page(any_page)
    any_page.get_by_label("What").select_option("air_mover:ground floor")
    any_page.get_by_label("The lead says").fill("11")
    any_page.get_by_label("Why").fill("open stair")
    any_page.get_by_role("button", name="Keep the lead's word").click()

    kept = any_page.get_by_role("row").filter(has_text="Air movers, ground floor")
    for words in ("8", "11", "open stair"):
        expect(kept).to_contain_text(words)
    by.holds_on_every_page(any_page)


def test_the_call_shows_the_same_report(live_server: Any, any_page: Page, enter: Callable[..., User]) -> None:
    user = enter(any_page, "dispatcher")
    area = Area.objects.create(code="river", name="River")
    taken = intake.take_call(key=uuid4(), actor=user, now=timezone.now(), area_id=area.pk)
    intake.answer_call(
        key=uuid4(), actor=user, now=timezone.now(), call_id=taken.call_id,
        field="room:a:line", value="kitchen 12x12 floor 144 walls 96 wood 60", seen=0,
    )  # fmt: skip

    any_page.goto(f"{live_server.url}/desk/calls/{taken.call_id}")
    side = any_page.locator("#side")
    side.get_by_text("The whole report").click()
    side.get_by_text("The working of each figure").click()

    expect(side.get_by_text("1152 / 50 = 23.04 pints/day")).to_be_visible()
    by.holds_on_every_page(any_page)
