"""A shift in the warehouse without a network, in a real browser: nothing lost, nothing doubled, nothing left behind."""

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
from django.contrib.sessions.models import Session
from django.utils import timezone
from playwright.sync_api import Browser, BrowserContext, Page, expect
from playwright.sync_api import Error as PlaywrightError

from equipment import custody, load_lists
from equipment.audit import audit
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
def test_every_page_of_the_floor_works_through_a_shift_without_a_network(
    cast: Cast, live_server: Any, browser: Browser, browser_type_launch_args: dict[str, Any], tmp_path: Any
) -> None:
    """Scanned out, counted, received, cleaned, rented, repaired; then the browser is closed and comes back."""
    earlier = {"since": timezone.now() - timedelta(days=2)}
    cast.units("0001", "0002", "0003", **earlier)
    cast.units("0004", at=cast.van, **earlier)
    cast.units("0005", "0006", at=cast.other_van, **earlier)
    cast.units("0666", condition="held_back", water_category=3, **earlier)
    sent = cast.by(cast.manager, timezone.now() - timedelta(hours=2))
    custody.send_transfer(**sent, numbers=("0003",), from_warehouse_id=cast.north.pk, to_warehouse_id=cast.south.pk)
    custody.send_transfer(
        **cast.by(cast.manager, timezone.now() - timedelta(hours=1)),
        numbers=("0002",),
        from_warehouse_id=cast.south.pk,
        to_warehouse_id=cast.north.pk,
    )
    address, north = open_list(cast, 2), f"{live_server.url}/warehouse/north"
    profile = {"user_data_dir": tmp_path / "profile", "viewport": by.DESK, **browser_type_launch_args}
    context = browser.browser_type.launch_persistent_context(**profile)
    page = start(context, live_server.url, cast, address)
    mark, said = page.locator("#outbox summary"), page.locator(".said")
    context.set_offline(True)

    scan(page, "0001")
    expect(said).to_contain_text("0001 Loaded")
    page.goto(f"{north}/counting")
    expect(page.locator("body[data-units-kept]")).to_be_visible()
    scan(page, "0002")
    expect(said).to_contain_text("0002 Counted, found here")
    page.goto(f"{north}/counting/V2")
    expect(page.locator("[data-left]")).to_contain_text("2 of 2")
    scan(page, "0005")
    expect(said).to_contain_text("0005 Counted")
    expect(page.locator("[data-left]")).to_contain_text("1 of 2")
    page.reload()
    expect(page.locator("[data-left]")).to_contain_text("1 of 2")
    page.locator("li[data-number='0006']").get_by_role("button", name="Not found").click()
    expect(page.locator("[data-left]")).to_contain_text("0 of 2")
    page.goto(f"{north}/transfers")
    expect(page.locator("body[data-units-kept]")).to_be_visible()
    scan(page, "0004")
    expect(said).to_contain_text("0004 Scanned")
    expect(mark).to_have_text("5 not yet sent")
    context.close()

    context = browser.browser_type.launch_persistent_context(**profile)
    context.set_offline(True)
    page = context.new_page()
    mark, said = page.locator("#outbox summary"), page.locator(".said")
    page.goto(f"{live_server.url}{address}")
    expect(mark).to_have_text("5 not yet sent")
    expect(page.locator("[data-total]")).to_contain_text("1 of 2")
    scan(page, "0666")
    expect(said).to_contain_text("Stop")
    page.goto(f"{north}/by-model")
    page.get_by_label("How many").fill("4")
    page.get_by_role("button", name="Write down").click()
    expect(page.locator("#kept-note")).to_contain_text("Count by model: kept on this device")
    page.goto(f"{north}/cleaning")
    row = page.locator("li[data-number='0666']")
    for step in row.get_by_role("checkbox").all():
        step.check()
    row.get_by_role("button", name="Ready").click()
    expect(row).to_contain_text("kept here, not yet sent")
    page.goto(f"{north}/rentals")
    page.get_by_label("Supplier").fill("Quarry Street Rental")
    page.get_by_label("Dollars a day").fill("40")
    page.get_by_label("Numbers").fill("R1 77")
    page.get_by_role("button", name="Rent in at").click()
    expect(page.locator("#kept-note")).to_contain_text("Rented in: kept")
    page.goto(f"{north}/repair")
    page.get_by_label("Number", exact=True).fill("0003")
    page.get_by_label("What is wrong").fill("cord is cut")
    page.locator("#out ~ form").get_by_role("button", name="Out to repair").click()
    expect(mark).to_have_text("9 not yet sent")
    page.goto(f"{live_server.url}{address}")
    expect(page.locator("body[data-units-kept]")).to_be_visible()
    scan(page, "0666")
    expect(said).to_contain_text("0666 Loaded")
    expect(mark).to_have_text("10 not yet sent")
    assert not Move.objects.filter(recorded_at__gt=timezone.now() - timedelta(minutes=30), why="loaded").exists()

    context.set_offline(False)
    expect(page.locator("#outbox")).to_be_hidden()
    context.close()
    done = UseCaseCall.objects.filter(actor=cast.keeper, outcome="done").order_by("id")
    assert list(done.values_list("verb", flat=True)) == [
        "scan_out",
        "count_units",
        "count_units",
        "not_found",
        "receive_transfer",
        "count_by_model",
        "set_condition",
        "rent_in",
        "set_condition",
        "scan_out",
    ]
    new = Move.objects.filter(actor=cast.keeper).order_by("id")
    assert list(new.values_list("unit__number", "why")) == [
        ("0001", "loaded"),
        ("0002", "found"),
        ("0006", "not_found"),
        ("0004", "received"),
        ("0666", "condition"),
        ("R1", "rented_in"),
        ("0003", "repair"),
        ("0666", "loaded"),
    ]
    happened = list(new.values_list("happened_at", "recorded_at"))
    assert happened == sorted(happened)
    assert all(at < recorded for at, recorded in happened)
    assert audit() == ()


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
