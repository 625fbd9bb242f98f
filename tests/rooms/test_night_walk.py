"""One loss from the ringing phone to a dry house, as its people live it: four sign-ins, no mouse, every page held."""

import re
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
import time_machine
from playwright.sync_api import Browser, Page, expect

from dispatch.models import Plan
from equipment.models import LoadLine, Reservation, SizingReport, UnitNow
from jobs import due_work
from jobs.models import Job, Visit
from tests.dispatch import night as nights
from tests.dispatch.night import NIGHT, Night
from tests.rooms import browser as by
from tests.rooms.conftest import EXPECTED, ON_A_PHONE, PASSWORD

pytestmark = pytest.mark.django_db(transaction=True)

FRIDAY, SATURDAY = date(2026, 1, 16), date(2026, 1, 17)
FRIDAY_SEVEN, SATURDAY_SEVEN = datetime(2026, 1, 16, 15, tzinfo=UTC), datetime(2026, 1, 17, 15, tzinfo=UTC)
SHIFT, AT_LATEST = timedelta(hours=9), timedelta(hours=12)
DIRTY = "2950"


class People:
    """Opens a browser of their own for whoever signs in, and collects what the pages complain about."""

    def __init__(self, browser: Browser, address: str) -> None:
        self.address = address
        self.faults: list[str] = []
        self._held: set[tuple[str, str]] = set()
        self._browser = browser

    def enter(self, name: str, **device: Any) -> Page:
        context = self._browser.new_context(reduced_motion="reduce", **(device or {"viewport": by.DESK}))
        page = self.watch(context.new_page())
        by.sign_in(page, self.address, name, PASSWORD)
        return page

    def watch(self, page: Page) -> Page:
        def note(message: Any) -> None:
            if message.type == "error" and not message.text.startswith(EXPECTED):
                self.faults.append(message.text)

        page.on("console", note)
        page.on("pageerror", lambda error: self.faults.append(str(error)))
        return page

    def open(self, page: Page, path: str) -> None:
        answer = page.goto(f"{self.address}{path}")
        assert answer
        assert answer.status == 200, path
        self.holds(page)

    def holds(self, page: Page) -> None:
        """The page as a phone shows it: no WCAG violation, no sideways scroll, targets for a thumb. Each state once."""
        shape = (page.url, " ".join(page.locator("h1, h2, button").all_inner_texts()))
        if shape in self._held:
            return
        self._held.add(shape)
        size = page.viewport_size
        assert size
        page.set_viewport_size(by.PHONE)
        try:
            by.holds_on_every_page(page)
        except AssertionError as error:
            raise AssertionError(f"{page.url}: {error}") from error
        page.set_viewport_size(size)


@pytest.fixture
def clock() -> Iterator[Any]:
    with time_machine.travel(NIGHT, tick=True) as traveller:
        yield traveller


@pytest.fixture
def night(clock: Any, live_server: Any, settings: Any) -> Night:
    settings.PLAN_SECONDS = 1
    made = nights.night()
    made.cast.units(DIRTY, condition="held_back", water_category=3)
    for day, starts_at in ((FRIDAY, FRIDAY_SEVEN), (SATURDAY, SATURDAY_SEVEN)):
        nights.crew(
            made.cast,
            f"{day:%A}",
            made.cast.van,
            made.ready.lead,
            service_day=day,
            starts_at=starts_at,
            ends_at=starts_at + SHIFT,
            at_latest=starts_at + AT_LATEST,
        )
    for user in (*made.cast.people.values(), made.empty.lead.user):
        user.set_password(PASSWORD)
        user.save()
    return made


@pytest.fixture
def people(night: Night, browser: Browser, live_server: Any) -> Iterator[People]:
    found = People(browser, live_server.url)
    yield found
    for context in browser.contexts:
        context.close()
    assert found.faults == []


def choose(page: Page, name: str, value: str) -> None:
    """Walk down the list of a call's field by the arrow key until it says `value`."""
    box = page.locator(f"select[name={name}]")
    by.reach(page, box)
    for _ in range(30):
        if box.input_value() == value:
            return
        page.keyboard.press("ArrowDown")
    raise AssertionError(f"{name} has no {value}")


def fill(page: Page, **typed: str) -> None:
    """Type into fields by their ids."""
    for name, value in typed.items():
        by.write(page, page.locator(f"#{name}"), value)


def do(page: Page, button: str, then: str) -> None:
    """Press a button and wait until the page says `then`."""
    by.press(page, page.get_by_role("button", name=button, exact=True))
    expect(page.locator("main")).to_contain_text(then)


def takes_the_call(people: People) -> Page:
    """The call starts with a number alone and is saved as it is typed; the page may close in between."""
    first = people.enter("dispatcher")
    people.open(first, "/desk")
    for words in ("Nobody is waiting on the phone.", "N1", "Ada", "North warehouse", "Low-grain dehumidifier"):
        expect(first.locator("main")).to_contain_text(words)
    people.open(first, "/desk/calls/new")
    first.keyboard.type("360-555-0199")
    first.keyboard.press("Enter")
    expect(first.locator("#saved")).to_have_text(re.compile("taken by|All saved"))
    fill(first, **{"f-street": "5230 Teasel Field Court", "f-zip_code": "98664"})
    expect(first.locator("#place")).to_contain_text("Clark County, Washington")
    expect(first.locator("#saved")).to_have_text("All saved.")
    context = first.context
    first.close()

    page = people.watch(context.new_page())
    people.open(page, "/desk")
    by.press(page, page.get_by_role("link", name="Call of "))
    expect(page.get_by_label("Street")).to_have_value("5230 Teasel Field Court")
    expect(page.get_by_label("ZIP")).to_have_value("98664")
    for name, value in (
        ("water_source", "supply_line"),
        ("running", "stopped"),
        ("power", "on"),
        ("category", "1"),
    ):
        choose(page, name, value)
    return page


def sends(page: Page, people: People) -> None:
    """The estimate says what it is, each crew stands in one of two lists, one press sends."""
    by.write(page, page.locator("#room-rows input[data-line]").last, "kitchen 12x14 floor 120 walls 60")
    expect(page.locator("#side")).to_contain_text("An estimate from what was told")
    fill(
        page, **{"f-lets_in": "Robin, the owner", "f-can_sign": "Robin, the owner", "f-access": "side gate, code 0000"}
    )
    expect(page.locator("#side")).to_contain_text("Enough is known to send a crew.")
    expect(page.locator("#saved")).to_have_text("All saved.")
    by.press(page, page.locator("#show-offers"))
    expect(page.locator("#offers")).to_contain_text("N1: at the door")
    expect(page.locator("#offers")).to_contain_text("N3 (Cas): ")
    people.holds(page)
    by.press(page, page.get_by_role("button", name="Send N1"))
    expect(page.locator("main")).to_contain_text("Say back")
    people.holds(page)


def escalates(clock: Any, desk: Page, people: People, night: Night) -> Page:
    """Ada does not answer; with nobody watching, Ben is asked, says yes on his phone and has the visit."""
    people.open(desk, "/desk")
    expect(desk.locator("main")).to_contain_text("Ada was asked at")
    clock.shift(timedelta(minutes=5, seconds=1))
    due_work.run_due()
    people.open(desk, "/desk")
    expect(desk.locator("main")).to_contain_text("Ben was asked at")
    expect(desk.locator("main")).to_contain_text("Silent so far: 1.")

    phone = people.enter("ben", **ON_A_PHONE)
    people.open(phone, "/crew")
    expect(phone.locator("main")).to_contain_text("awake, rested and fit to drive")
    do(phone, "I am leaving now", "First load at")
    people.holds(phone)
    people.open(desk, "/desk")
    expect(desk.locator("main")).not_to_contain_text("was asked at")
    return phone


def loads(people: People, night: Night) -> list[str]:
    """The warehouse loads Ben's van from its list; sewage equipment is stopped, a second scan changes nothing."""
    page = people.enter("warehouse")
    people.open(page, "/warehouse")
    by.press(page, page.get_by_role("link", name="North warehouse"))
    expect(page.locator("main")).to_contain_text("Van 2")
    people.holds(page)
    by.press(page, page.get_by_role("link", name="Load Van 2"))
    fill(page, numbers=DIRTY)
    page.keyboard.press("Enter")
    expect(page.get_by_role("alert")).to_contain_text(f"Stop: {DIRTY} came back from category 3 water")
    expect(page.locator("#numbers")).to_have_value(DIRTY)
    wanted = dict(LoadLine.objects.values_list("model__code", "wanted"))
    numbers = [f"2{n:03}" for n in range(wanted["AM"])] + [f"29{n:02}" for n in range(wanted.get("LGR", 0))]
    fill(page, numbers=numbers[0])
    page.keyboard.press("Enter")
    expect(page.get_by_role("status").filter(has_text="Loaded")).to_be_visible()
    fill(page, numbers=numbers[0])
    page.keyboard.press("Enter")
    expect(page.get_by_role("alert")).to_contain_text("Already there")
    fill(page, numbers=" ".join(numbers[1:]))
    page.keyboard.press("Enter")
    expect(page.locator("main")).to_contain_text("Everything on this list is aboard.")
    people.holds(page)
    return numbers


def works(phone: Page, people: People, numbers: list[str]) -> str:
    """Leaving, arrived, units placed, a first point above its goal, done; the job's number."""
    people.open(phone, "/crew")
    by.press(phone, phone.get_by_role("link", name="Open the next stop"))
    for words in ("5230 Teasel Field Court", "side gate, code 0000", "Bring", "Standing there: 0"):
        expect(phone.locator("main")).to_contain_text(words)
    people.holds(phone)
    do(phone, "Leaving now", "I have arrived")
    do(phone, "I have arrived", "Place equipment")
    people.holds(phone)
    fill(phone, numbers=" ".join(numbers), room_name="kitchen")
    do(phone, "They stand here now", f"Standing there: {len(numbers)}")
    read_air(phone)
    fill(phone, new_room="kitchen", new_meter="pin meter", new_standard="10", new_goal="12", new_value="24")
    do(phone, "Save readings", "Readings saved.")
    do(phone, "Done here", "Done at")
    people.holds(phone)
    return Job.objects.get().number


def read_air(phone: Page) -> None:
    fill(phone, t_inside="74", h_inside="58", t_outside="44", h_outside="80")


def plans(desk: Page, people: People, day: date) -> None:
    """The desk asks for a day, the runner works it out beside, the desk publishes it."""
    people.open(desk, "/desk/plans")
    fill_day(desk, day)
    do(desk, "Work out a plan", "It is being worked out beside your work.")
    people.holds(desk)
    due_work.run_due()
    expect(desk.locator("main")).to_contain_text(f"{day:%A}")
    expect(desk.get_by_role("button", name="Publish these routes")).to_be_visible()
    people.holds(desk)
    do(desk, "Publish these routes", "Take this plan back")
    assert Plan.objects.get(service_day=day).state == Plan.State.PUBLISHED


def fill_day(desk: Page, day: date) -> None:
    box = desk.locator("#day")
    by.reach(desk, box)
    desk.keyboard.type(f"{day:%m%d%Y}")
    expect(box).to_have_value(day.isoformat())


def reads_at_goal(people: People) -> None:
    """In the morning the lead finds the job dry: the next visit is the pick-up."""
    phone = people.enter("crew_lead", **ON_A_PHONE)
    people.open(phone, "/crew")
    by.press(phone, phone.get_by_role("link", name="Open the next stop"))
    do(phone, "Leaving now", "I have arrived")
    do(phone, "I have arrived", "Last time 24")
    read_air(phone)
    by.write(phone, phone.get_by_label("Point 1, kitchen"), "11")
    do(phone, "Save readings", "Every point is at its goal. The next visit is the pick-up.")
    do(phone, "Done here", "Done at")


def picks_up(people: People, numbers: list[str]) -> None:
    phone = people.enter("crew_lead", **ON_A_PHONE)
    people.open(phone, "/crew")
    expect(phone.locator("main")).to_contain_text("Pick-up")
    by.press(phone, phone.get_by_role("link", name="Open the next stop"))
    for words in ("Take back", "3 Air mover", "1 Low-grain dehumidifier"):
        expect(phone.locator("main")).to_contain_text(words)
    do(phone, "Leaving now", "I have arrived")
    do(phone, "I have arrived", "Take up equipment")
    fill(phone, numbers=" ".join(numbers))
    do(phone, "They are back on the vehicle", "Standing there: 0")
    do(phone, "Done here", "Done at")


def brings_back(people: People, numbers: list[str]) -> None:
    """Everything comes in dirty, against what the job should give back, and one unit is made ready."""
    page = people.enter("warehouse")
    people.open(page, "/warehouse/north/returns")
    fill(page, numbers=" ".join(numbers))
    page.keyboard.press("Enter")
    expect(page.locator("main")).to_contain_text("All back")
    people.holds(page)
    people.open(page, "/warehouse/north/cleaning")
    first = numbers[0]
    by.press(page, page.get_by_role("button", name=f": {first}"))
    expect(page.get_by_role("status").filter(has_text=f"{first} Ready")).to_be_visible()
    assert dict(UnitNow.objects.filter(unit__number__in=numbers[:2]).values_list("unit__number", "condition")) == {
        first: "ready",
        numbers[1]: "not_yet_cleaned",
    }
    people.open(page, f"/warehouse/units/{first}")
    story = page.locator(".history").inner_text()
    for words in ("Van 2", "kitchen", "Van 1", "North warehouse"):
        assert words in story


def test_one_loss_from_the_first_ring_to_the_last_unit_back(people: People, night: Night, clock: Any) -> None:
    desk = takes_the_call(people)
    sends(desk, people)
    assert {hold.sizing_id for hold in Reservation.objects.all()} == {SizingReport.objects.latest("pk").pk}
    phone = escalates(clock, desk, people, night)
    numbers = loads(people, night)
    number = works(phone, people, numbers)

    plans(desk, people, FRIDAY)
    clock.move_to(FRIDAY_SEVEN + timedelta(minutes=10))
    reads_at_goal(people)
    desk = people.enter("dispatcher")
    plans(desk, people, SATURDAY)
    assert Visit.objects.get(stop__crew__service_day=SATURDAY).kind == Visit.Kind.PICK_UP
    people.open(desk, f"/desk/jobs/{number}")
    do(desk, "Close this job", "Not closed")
    expect(desk.get_by_role("alert")).to_contain_text(numbers[0])

    clock.move_to(SATURDAY_SEVEN + timedelta(minutes=10))
    picks_up(people, numbers)
    brings_back(people, numbers)
    desk = people.enter("dispatcher")
    people.open(desk, f"/desk/jobs/{number}")
    do(desk, "Close this job", f"{number} is closed.")
    people.holds(desk)
    assert Job.objects.get().stage == Job.Stage.CLOSED
