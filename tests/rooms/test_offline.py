"""A shift in the warehouse without a network, in a real browser: nothing lost, nothing doubled, nothing left behind."""

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
from django.contrib.sessions.models import Session
from django.utils import timezone
from playwright.sync_api import Browser, BrowserContext, Page, expect
from playwright.sync_api import Error as PlaywrightError

from equipment import load_lists
from equipment.models import Move
from jobs.models import UseCaseCall
from tests.equipment import cast as casting
from tests.equipment.cast import Cast
from tests.rooms import browser as by
from tests.rooms.conftest import PASSWORD


@pytest.fixture
def cast(live_server: Any) -> Cast:
    made = casting.make()
    made.keeper.set_password(PASSWORD)
    made.keeper.save()
    return made


@pytest.fixture
def context(browser: Browser) -> Iterator[BrowserContext]:
    made = browser.new_context(viewport=by.DESK, reduced_motion="reduce")
    yield made
    made.close()


def open_list(cast: Cast, wanted: int) -> str:
    list_id = load_lists.write_load_list(
        **cast.by(cast.dispatcher, timezone.now()),
        vehicle_id=cast.van.pk,
        warehouse_id=cast.north.pk,
        departs_at=timezone.now() + timedelta(hours=1),
        crew_name="Crew A",
        lines=((cast.mover.pk, cast.job().pk, None, 1, wanted),),
    )
    return f"/warehouse/north/load/{list_id}"


def sign_in(page: Page, url: str, cast: Cast) -> None:
    page.goto(f"{url}/sign-in")
    page.get_by_label("Username").fill(cast.keeper.username)
    page.get_by_label("Password").fill(PASSWORD)
    page.keyboard.press("Enter")
    expect(page.get_by_role("button", name="Sign out")).to_be_visible()


def start(context: BrowserContext, url: str, cast: Cast, address: str) -> Page:
    """Signed in, at the list, with everything kept that the device keeps."""
    page = context.new_page()
    sign_in(page, url, cast)
    page.goto(f"{url}/warehouse/north")
    expect(page.locator("body[data-kept]")).to_be_visible()
    page.goto(f"{url}{address}")
    expect(page.locator("body[data-kept][data-units-kept]")).to_be_visible()
    return page


def scan(page: Page, number: str) -> None:
    page.locator("#numbers").fill(number)
    page.keyboard.press("Enter")


def loaded() -> list[str]:
    return list(Move.objects.filter(why="loaded").order_by("id").values_list("unit__number", flat=True))


def test_a_shift_without_a_network_arrives_once_and_in_order(
    cast: Cast, live_server: Any, context: BrowserContext
) -> None:
    numbers = [f"{n:04}" for n in (3, 1, 6, 2, 5, 4)]
    cast.units(*numbers)
    cast.units("0666", condition="held_back", water_category=3)
    address = open_list(cast, 6)
    page = start(context, live_server.url, cast, address)
    mark, said = page.locator("#outbox summary"), page.locator(".said")

    context.set_offline(True)
    for count, number in enumerate(numbers[:4], start=1):
        scan(page, number)
        expect(said).to_contain_text(f"{number} Loaded")
        expect(mark).to_have_text(f"{count} not yet sent")
    expect(page.locator("[data-total]")).to_contain_text("2 of 6")
    scan(page, "0666")
    expect(said).to_contain_text("Stop")
    scan(page, "9999")
    expect(said).to_contain_text("Not known")
    scan(page, numbers[0])
    expect(said).to_contain_text("Already there")
    expect(mark).to_have_text("4 not yet sent")

    page.reload()
    expect(page.locator("[data-total]")).to_contain_text("2 of 6")
    page.close()
    page = context.new_page()
    page.goto(f"{live_server.url}/warehouse/north")
    page.get_by_role("link", name="Load", exact=False).first.click()
    expect(page.locator("#outbox summary")).to_have_text("4 not yet sent")
    expect(page.locator("body[data-units-kept]")).to_be_visible()
    for number in numbers[4:]:
        scan(page, number)
        expect(page.locator(".said")).to_contain_text(f"{number} Loaded")
    assert loaded() == []

    context.set_offline(False)
    expect(page.locator("#outbox")).to_be_hidden()
    expect(page.get_by_text("Everything on this list is aboard")).to_be_visible()
    assert loaded() == numbers
    happened = list(Move.objects.filter(why="loaded").order_by("id").values_list("happened_at", "recorded_at"))
    assert happened == sorted(happened)
    assert all(at < recorded for at, recorded in happened)


@pytest.mark.long
def test_an_answer_that_was_lost_on_the_way_is_asked_for_again_and_nothing_is_done_twice(
    cast: Cast, live_server: Any, context: BrowserContext
) -> None:
    cast.units("0001", "0002")
    page = start(context, live_server.url, cast, open_list(cast, 2))
    lost: list[str] = []

    def lose(route: Any) -> None:
        if route.request.method != "POST" or lost:
            return route.fallback()
        lost.append(route.fetch().text())
        return route.abort()

    context.route("**/load/*", lose)
    scan(page, "0001")
    expect(page.locator(".said")).to_contain_text("0001 Loaded")
    expect(page.locator("#outbox summary")).to_have_text("1 not yet sent")
    scan(page, "0002")
    expect(page.get_by_text("Everything on this list is aboard")).to_be_visible()
    assert len(lost) == 1
    assert loaded() == ["0001", "0002"]
    assert UseCaseCall.objects.filter(verb="scan_out", outcome="done").count() == 2


@pytest.mark.long
def test_an_expired_session_pauses_and_a_refusal_waits_for_a_decision(
    cast: Cast, live_server: Any, context: BrowserContext
) -> None:
    cast.units("0001")
    page = start(context, live_server.url, cast, open_list(cast, 2))
    context.set_offline(True)
    scan(page, "0001")
    scan(page, "9999")
    scan(page, "9999")
    mark = page.locator("#outbox summary")
    expect(mark).to_have_text("2 not yet sent")
    Session.objects.all().delete()
    context.set_offline(False)
    expect(mark).to_have_text("2 not yet sent: sign in again to send")
    assert loaded() == []

    sign_in(page, live_server.url, cast)
    expect(mark).to_have_text("1 refused: please decide")
    assert loaded() == ["0001"]
    mark.click()
    expect(page.locator("#outbox")).to_contain_text("9999")
    expect(page.locator("#outbox .refusal")).to_contain_text("No unit")
    by.axe_clean(page)
    page.get_by_label("Or set it aside, because").fill("misread tag")
    page.get_by_role("button", name="Set aside").click()
    expect(page.locator("#outbox")).to_be_hidden()


@pytest.mark.long
def test_what_was_kept_goes_with_the_sign_out_and_no_sign_in_page_is_ever_kept(
    cast: Cast, live_server: Any, context: BrowserContext
) -> None:
    cast.units("0001")
    page = start(context, live_server.url, cast, open_list(cast, 1))
    every = """(async () => {
        const found = [];
        for (const name of await caches.keys()) {
            const requests = await (await caches.open(name)).keys();
            found.push(...requests.map((request) => new URL(request.url).pathname));
        }
        return found;
    })()"""
    assert "/warehouse/north/units.json" in page.evaluate(every)
    Session.objects.all().delete()
    page.goto(f"{live_server.url}/warehouse/north/returns")
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    page.wait_for_function(f"async () => (await {every}).length === 0")

    sign_in(page, live_server.url, cast)
    page.goto(f"{live_server.url}/warehouse/north")
    expect(page.locator("body[data-kept]")).to_be_visible()
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    page.wait_for_function(f"async () => !(await {every}).some((path) => path.startsWith('/warehouse'))")
    context.set_offline(True)
    with pytest.raises(PlaywrightError, match="ERR_FAILED"):
        page.goto(f"{live_server.url}/warehouse/north")
