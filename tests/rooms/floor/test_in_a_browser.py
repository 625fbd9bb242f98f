"""The big field as a scanner and gloved hands use it: from anywhere on the page, with a sound, a word and a shape."""

from collections.abc import Callable
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from equipment import custody, fast_counts
from equipment.count_lists import draw_count_list
from tests.equipment.cast import Cast
from tests.rooms import browser as by

# Stands in for the loudspeaker: notes the form and pitch of each tone.
LISTEN = """
window.heard = [];
window.AudioContext = class {
  currentTime = 0; state = "running"; destination = {};
  resume() { return Promise.resolve(); }
  createGain() { return { gain: {}, connect: (next) => next }; }
  createOscillator() {
    const tone = { frequency: {}, connect: (next) => next, stop: () => {} };
    tone.start = () => window.heard.push(`${tone.type} ${tone.frequency.value}`);
    return tone;
  }
};
"""


def scan(page: Page, number: str) -> None:
    page.locator("h1").click()
    page.evaluate("document.activeElement.blur()")
    page.keyboard.type(number)
    page.keyboard.press("Enter")


def test_right_and_wrong_differ_in_sound_word_and_shape(
    live_server: Any, enter: Callable[..., Any], desk_page: Page, cast: Cast
) -> None:
    cast.units("0001", at=cast.van)
    desk_page.add_init_script(LISTEN)
    enter(desk_page, "warehouse", username="keeper")
    desk_page.goto(f"{live_server.url}/warehouse/north/returns")
    said, shape = desk_page.locator(".said-word"), desk_page.locator(".said-shape")

    scan(desk_page, "0001")
    expect(said).to_have_text("0001 In")
    expect(desk_page.locator(".said")).to_have_attribute("role", "status")
    right = shape.inner_html()
    scan(desk_page, "7777")
    expect(said).to_have_text("Not known")
    expect(desk_page.locator(".said")).to_have_attribute("role", "alert")
    assert shape.inner_html() != right
    scan(desk_page, "0001")
    expect(said).to_have_text("Already there")
    heard = desk_page.evaluate("window.heard")
    assert heard[:2] == ["sine 880", "square 220"]
    assert len(set(heard)) == len({tone.split()[1] for tone in heard}) >= 2


def test_the_last_scan_is_taken_back(live_server: Any, enter: Callable[..., Any], phone_page: Page, cast: Cast) -> None:
    cast.units("0001", at=cast.van)
    enter(phone_page, "warehouse", username="keeper")
    phone_page.goto(f"{live_server.url}/warehouse/north/returns")
    phone_page.keyboard.type("1")
    phone_page.keyboard.press("Enter")
    phone_page.get_by_role("button", name="Undo").click()
    expect(phone_page.locator(".said-word")).to_have_text("0001 Taken back")
    assert str(cast.now("0001").holder) == "Van 1"


@pytest.mark.long
def test_each_page_of_the_floor_holds(live_server: Any, enter: Callable[..., Any], any_page: Page, cast: Cast) -> None:
    cast.units("0001", "0002", "0003")
    cast.units("0004", at=cast.van)
    cast.units("0005", condition="broken")
    now = timezone.now()
    warehouses = {"from_warehouse_id": cast.south.pk, "to_warehouse_id": cast.north.pk}
    custody.send_transfer(**cast.by(cast.keeper, now), numbers=("1",), **warehouses)
    draw_count_list(**cast.by(cast.keeper, now), warehouse_id=cast.north.pk)
    custody.count_units(**cast.by(cast.keeper, now), numbers=("4",), warehouse_id=cast.north.pk)
    custody.rent_in(
        **cast.by(cast.keeper, now),
        model_id=cast.dehumidifier.pk,
        warehouse_id=cast.north.pk,
        supplier="Quarry Street Rental",
        units=(("R1", "4471"),),
        daily_cost=42.5,
    )
    count = fast_counts.count_by_model(
        **cast.by(cast.keeper, now),
        warehouse_id=cast.north.pk,
        vehicle_id=cast.van.pk,
        model_id=cast.mover.pk,
        quantity=2,
    )
    enter(any_page, "warehouse", username="keeper")
    rooms = ("transfers", "transfers/south", "counting", "counting/V1", "differences", "by-model", f"by-model/{count}")
    for room in (*rooms, "rentals", "repair"):
        answer = any_page.goto(f"{live_server.url}/warehouse/north/{room}", wait_until="networkidle")
        assert answer
        assert answer.status == 200, room
        any_page.locator(".more-pages > summary").click()
        by.holds_on_every_page(any_page)
