"""A call taken by keyboard alone: saved as it is typed, nothing lost, two screens, bad input in place."""

from collections.abc import Callable, Iterator
from types import SimpleNamespace
from typing import Any

import pytest
from django.contrib.auth.models import User
from playwright.sync_api import Browser, Page, Route, expect

from jobs import selectors
from jobs.models import Area, Call, Payer
from tests.rooms import browser as by

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def area(transactional_db: None) -> Area:
    Payer.objects.create(code="heron", name="Heron Slough Mutual (demo)")
    return Area.objects.create(code="lower-columbia", name="Lower Columbia", phone="564-555-0190")


@pytest.fixture
def begin(live_server: Any, enter: Callable[..., User], area: Area) -> Callable[..., None]:
    """Signs a dispatcher in and starts a call with a number, by keyboard."""

    def start(page: Page, number: str = "360-555-0199") -> None:
        enter(page, "dispatcher")
        page.goto(f"{live_server.url}/desk/calls/new")
        page.keyboard.type(number)
        page.keyboard.press("Enter")
        expect(page.get_by_label("Street")).to_be_visible()

    return start


@pytest.fixture
def rough_page(browser: Browser) -> Iterator[Page]:
    """A page whose console may complain, because the test takes its server away."""
    context = browser.new_context(viewport=by.DESK)
    yield context.new_page()
    context.close()


def _all_saved(page: Page) -> None:
    expect(page.locator("#saved")).to_have_text("All saved.")


def _answers() -> dict[str, Any]:
    call = Call.objects.get()
    return {**call.answers, **call.private_answers}


def test_each_field_is_saved_as_it_is_typed(desk_page: Page, begin: Callable[..., None]) -> None:
    begin(desk_page)
    by.write(desk_page, desk_page.get_by_label("Street"), "5230 Teasel Field Court")
    by.write(desk_page, desk_page.get_by_label("ZIP"), "98664")

    expect(desk_page.locator("#place")).to_contain_text("Clark County, Washington")
    _all_saved(desk_page)
    assert _answers() == {
        "callback_number": "360-555-0199",
        "street": "5230 Teasel Field Court",
        "zip_code": "98664",
    }

    desk_page.reload()
    expect(desk_page.get_by_label("Street")).to_have_value("5230 Teasel Field Court")


def test_the_page_holds_on_any_screen(any_page: Page, begin: Callable[..., None]) -> None:
    begin(any_page)
    by.write(
        any_page, any_page.locator("#room-rows input[data-line]").last, "kitchen 13x15 floor 150 walls 70 wood 150"
    )
    expect(any_page.locator("#side")).to_contain_text("An estimate from what was told")
    _all_saved(any_page)

    by.holds_on_every_page(any_page)


def test_help_unfolds_where_the_cursor_stands_and_takes_no_cursor(desk_page: Page, begin: Callable[..., None]) -> None:
    begin(desk_page)
    unfolded = desk_page.locator("[data-help]:visible, #help-here[open]")
    assert unfolded.count() == 0
    by.write(desk_page, desk_page.get_by_label("Still running?"), "")
    desk_page.keyboard.press("F1")
    expect(desk_page.get_by_text("ask twice, and where the main valve is")).to_be_visible()
    expect(desk_page.get_by_label("Still running?")).to_be_focused()
    assert unfolded.count() == 1
    desk_page.keyboard.press("F1")
    assert unfolded.count() == 0
    desk_page.get_by_role("button", name="Help with this part").first.click()
    expect(desk_page.get_by_text("read it back digit by digit")).to_be_visible()
    expect(desk_page.get_by_label("Still running?")).to_be_focused()


def test_bad_input_is_refused_in_place_and_stays(desk_page: Page, begin: Callable[..., None]) -> None:
    begin(desk_page)
    year = desk_page.get_by_label("Year built")
    by.write(desk_page, year, "19x6")

    expect(desk_page.locator("[data-holds=year_built] [data-refusal]")).to_contain_text("four digits")
    expect(year).to_have_value("19x6")
    by.write(desk_page, desk_page.get_by_label("Town"), "Camas")
    expect(desk_page.locator("#saved")).to_have_text("1 field not yet saved")

    by.write(desk_page, year, "1996")
    _all_saved(desk_page)
    assert (_answers()["year_built"], _answers()["town"]) == (1996, "Camas")


def test_hazards_bring_their_words(desk_page: Page, begin: Callable[..., None]) -> None:
    begin(desk_page)
    by.reach(desk_page, desk_page.get_by_label("someone hurt or trapped"))
    desk_page.keyboard.press("ArrowRight")
    desk_page.keyboard.press("ArrowRight")
    desk_page.keyboard.press("Space")

    expect(desk_page.locator("#side")).to_contain_text("Leave the building now and touch no switch.")
    expect(desk_page.locator("#side")).to_contain_text("Danger first")
    assert _answers()["hazards"] == ["gas"]


def test_rooms_are_added_by_enter_and_estimated(desk_page: Page, begin: Callable[..., None]) -> None:
    begin(desk_page)
    by.reach(desk_page, desk_page.locator("#room-rows input[data-line]"))
    for line in ("kitchen 13x15 hardwood wood", "hall 4x18", "bath 8x10 walls"):
        desk_page.keyboard.type(line)
        desk_page.keyboard.press("Enter")

    _all_saved(desk_page)
    rooms = Call.objects.get().rooms
    assert [(room["name"], room["length_ft"], room["width_ft"]) for room in rooms] == [
        ("kitchen", 13, 15), ("hall", 4, 18), ("bath", 8, 10)
    ]  # fmt: skip
    expect(desk_page.locator("#side")).to_contain_text("Air movers")
    desk_page.keyboard.press("Enter")
    expect(desk_page.get_by_label("Building", exact=True)).to_be_focused()


def test_a_room_is_taken_off_and_put_back(desk_page: Page, begin: Callable[..., None]) -> None:
    begin(desk_page)
    by.reach(desk_page, desk_page.locator("#room-rows input[data-line]"))
    desk_page.keyboard.type("hall 4x18")
    desk_page.keyboard.press("Tab")
    desk_page.keyboard.press("Enter")
    expect(desk_page.get_by_role("button", name="Put back")).to_be_focused()
    _all_saved(desk_page)
    assert Call.objects.get().rooms[0]["removed"] is True

    desk_page.keyboard.press("Enter")
    _all_saved(desk_page)
    assert not Call.objects.get().rooms[0]["removed"]


def test_without_the_server_everything_waits_in_the_browser(rough_page: Page, begin: Callable[..., None]) -> None:
    begin(rough_page)
    # The page's own program has to be there before the network goes.
    rough_page.wait_for_load_state("load")
    rough_page.context.set_offline(True)
    by.write(rough_page, rough_page.get_by_label("Street"), "9 Alder Row")
    by.write(rough_page, rough_page.get_by_label("Unit"), "B")
    expect(rough_page.locator("#saved")).to_contain_text("2 fields not yet saved: the server cannot be reached")
    assert "street" not in _answers()

    rough_page.context.set_offline(False)
    _all_saved(rough_page)
    assert (_answers()["street"], _answers()["unit"]) == ("9 Alder Row", "B")


def test_what_the_browser_kept_is_sent_when_the_page_comes_back(rough_page: Page, begin: Callable[..., None]) -> None:
    begin(rough_page)
    address = rough_page.url
    rough_page.route("**/answers", lambda route: route.abort())
    by.write(rough_page, rough_page.get_by_label("Street"), "9 Alder Row")
    by.write(rough_page, rough_page.locator("#room-rows input[data-line]"), "hall 4x18")
    expect(rough_page.locator("#saved")).to_contain_text("2 fields not yet saved")
    rough_page.close(run_before_unload=False)

    again = rough_page.context.new_page()
    again.goto(address)
    _all_saved(again)
    assert _answers()["street"] == "9 Alder Row"
    assert Call.objects.get().rooms[0]["name"] == "hall"


def test_an_answer_that_is_lost_does_not_quarrel_with_what_is_typed_next(
    rough_page: Page, begin: Callable[..., None]
) -> None:
    begin(rough_page)
    lost: list[int] = []

    def lose_the_first(route: Route) -> None:
        """The server keeps the save, but its answer never arrives."""
        if route.request.method == "POST" and not lost:
            lost.append(route.fetch().status)
            route.abort()
        else:
            route.continue_()

    rough_page.route("**/answers", lose_the_first)
    by.write(rough_page, rough_page.get_by_label("Street"), "9 Alder")
    expect(rough_page.locator("#saved")).to_contain_text("the server cannot be reached")
    rough_page.keyboard.type(" Row")

    _all_saved(rough_page)
    assert lost == [200]
    assert _answers()["street"] == "9 Alder Row"
    assert Call.objects.get().versions["street"] == 2


def test_two_screens_see_each_other_and_overwrite_nothing(desk_page: Page, begin: Callable[..., None]) -> None:
    begin(desk_page)
    other = desk_page.context.new_page()
    other.goto(desk_page.url)
    by.write(other, other.get_by_label("Town"), "Camas")
    _all_saved(other)
    # The first screen has not looked yet and types something else.
    by.write(desk_page, desk_page.get_by_label("Town"), "Washougal")
    expect(desk_page.locator("[data-holds=town] [data-refusal]")).to_contain_text("There now: Camas.")
    assert _answers()["town"] == "Camas"

    by.press(desk_page, desk_page.get_by_role("button", name="Keep mine"))
    _all_saved(desk_page)
    assert _answers()["town"] == "Washougal"
    expect(other.get_by_label("Town")).to_have_value("Washougal")


def test_a_town_in_both_states_is_asked(desk_page: Page, begin: Callable[..., None]) -> None:
    begin(desk_page)
    by.write(desk_page, desk_page.get_by_label("Town"), "Rainier")
    expect(desk_page.locator("#place")).to_contain_text("Which one: Washington or Oregon?")
    by.press(desk_page, desk_page.get_by_role("button", name="Rainier, Oregon"))

    expect(desk_page.locator("#place")).to_contain_text("Columbia County, Oregon")
    assert _answers()["state"] == "OR"


def test_a_call_without_a_crew_ends_with_its_reason(desk_page: Page, begin: Callable[..., None]) -> None:
    begin(desk_page)
    by.press(desk_page, desk_page.get_by_text("No crew tonight"))
    by.press(desk_page, desk_page.get_by_role("button", name="End the call"))
    expect(desk_page.get_by_text("Say in a few words why no crew is needed.")).to_be_visible()
    by.write(desk_page, desk_page.get_by_label("Why no crew is needed"), "an old stain, a roofer comes first")
    by.press(desk_page, desk_page.get_by_role("button", name="End the call"))

    expect(desk_page.get_by_role("heading", level=1)).to_have_text("Call ended")
    assert selectors.open_calls() == ()
    by.holds_on_every_page(desk_page)


def test_a_visit_is_booked_and_said_back(desk_page: Page, begin: Callable[..., None]) -> None:
    begin(desk_page)
    by.write(desk_page, desk_page.get_by_label("Street"), "9 Alder Row")
    by.write(desk_page, desk_page.get_by_label("ZIP"), "98664")
    _all_saved(desk_page)
    by.press(desk_page, desk_page.get_by_text("No crew tonight"))
    by.reach(desk_page, desk_page.get_by_label("Day"))
    desk_page.keyboard.type("12312031")
    by.press(desk_page, desk_page.get_by_role("button", name="Book the visit"))

    expect(desk_page.get_by_text("We come on Wednesday, December 31.")).to_be_visible()
    expect(desk_page.get_by_text("Our number is 564-555-0190")).to_be_visible()
    by.holds_on_every_page(desk_page)


def test_a_known_number_opens_its_job(desk_page: Page, begin: Callable[..., None], live_server: Any) -> None:
    test_a_visit_is_booked_and_said_back(desk_page, begin)
    desk_page.goto(f"{live_server.url}/desk/calls/new")
    desk_page.keyboard.type("(360) 555-0199")
    desk_page.keyboard.press("Enter")

    expect(desk_page.locator("#side")).to_contain_text("This number belongs to J-1001")
    by.press(desk_page, desk_page.get_by_role("button", name="The call is about it"))
    expect(desk_page.get_by_role("link", name="Open J-1001")).to_be_visible()


def test_without_the_script_a_plain_save_loses_nothing(
    browser: Any, begin: Callable[..., None], desk_page: Page
) -> None:
    begin(desk_page)
    plain = browser.new_context(java_script_enabled=False, viewport=by.DESK)
    plain.add_cookies(desk_page.context.cookies())
    page = plain.new_page()
    page.goto(desk_page.url)
    page.get_by_label("Street").fill("9 Alder Row")
    page.get_by_label("Year built").fill("19x6")
    page.get_by_label("gas smell").check()
    page.locator("#room-rows input[data-line]").last.fill("hall 4x18")
    page.get_by_role("button", name="Save").click()

    expect(page.get_by_label("Year built")).to_have_value("19x6")
    expect(page.locator("[data-holds=year_built] [data-refusal]")).to_contain_text("four digits")
    plain.close()
    assert (_answers()["street"], _answers()["hazards"]) == ("9 Alder Row", ["gas"])
    assert Call.objects.get().rooms[0]["name"] == "hall"


def test_a_place_is_pointed_at_on_the_map_by_keyboard(desk_page: Page, begin: Callable[..., None]) -> None:
    begin(desk_page)
    by.write(desk_page, desk_page.get_by_label("ZIP"), "98664")
    expect(desk_page.locator("#place")).to_contain_text("Clark County")
    by.press(desk_page, desk_page.get_by_text("Point on the map"))
    expect(desk_page.locator("#point-map path").first).to_be_attached()
    by.press(desk_page, desk_page.get_by_role("button", name="Take the middle of the map"))

    expect(desk_page.get_by_label("Coordinates")).to_have_value("45.6231, -122.5767")
    _all_saved(desk_page)
    assert _answers()["point"] == [45.6231, -122.5767]
    by.holds_on_every_page(desk_page)


def test_a_street_is_looked_up_when_a_geocoder_is_configured(
    desk_page: Page, begin: Callable[..., None], settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.GEOCODER = "nominatim"
    hits = [
        SimpleNamespace(latitude=46.0891, longitude=-122.9362, address="1 Main Street, Rainier, Oregon"),
        SimpleNamespace(latitude=46.8896, longitude=-122.6887, address="1 Main Street, Rainier, Washington"),
    ]
    geocoder = SimpleNamespace(geocode=lambda words, exactly_one: hits)
    monkeypatch.setattr("jobs.places._geocoder", lambda: geocoder)
    begin(desk_page)
    by.write(desk_page, desk_page.get_by_label("Street"), "1 Main Street")
    by.press(desk_page, desk_page.get_by_text("Point on the map"))
    by.press(desk_page, desk_page.get_by_role("button", name="Look up the street"))
    by.press(desk_page, desk_page.get_by_role("button", name="1 Main Street, Rainier, Oregon"))

    expect(desk_page.locator("#place")).to_contain_text("Columbia County, Oregon")
    assert _answers()["point"] == [46.0891, -122.9362]
