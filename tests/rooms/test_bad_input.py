"""What cannot be meant is refused where it was typed, and what was typed is still there."""

from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
from django.contrib.auth.models import User
from django.test import Client
from django.utils import timezone
from playwright.sync_api import Page, expect

from dispatch.emergencies import Sent, send
from dispatch.models import CallOut, Card, Crew
from equipment.models import Move
from jobs.models import AirReading, Area, Call, Visit
from tests.dispatch import night as nights
from tests.dispatch.night import Night
from tests.equipment.cast import HOUR
from tests.rooms import browser as by


@pytest.mark.django_db(transaction=True)
def test_a_number_with_letters_is_refused_where_it_stands(
    desk_page: Page, live_server: Any, enter: Callable[..., User]
) -> None:
    Area.objects.create(code="lower-columbia", name="Lower Columbia")
    enter(desk_page, "dispatcher")
    desk_page.goto(f"{live_server.url}/desk/calls/new")
    desk_page.keyboard.type("360-555-O199x")
    desk_page.keyboard.press("Enter")

    expect(desk_page.locator("#callback_number-no")).to_contain_text("360-555-0100")
    expect(desk_page.locator("#callback_number")).to_have_value("360-555-O199x")
    by.holds_on_every_page(desk_page)
    assert not Call.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_sizes_that_no_room_has_are_refused_in_their_line(
    desk_page: Page, live_server: Any, enter: Callable[..., User]
) -> None:
    Area.objects.create(code="lower-columbia", name="Lower Columbia")
    enter(desk_page, "dispatcher")
    desk_page.goto(f"{live_server.url}/desk/calls/new")
    desk_page.keyboard.type("360-555-0199")
    desk_page.keyboard.press("Enter")
    line = desk_page.locator("#room-rows input[data-line]").first
    refusal = desk_page.locator("#room-rows [data-refusal]").first
    for typed in ("kitchen -13x15", "kitchen 1300x15000"):
        by.write(desk_page, line, typed)
        expect(refusal).not_to_be_empty()
        expect(refusal).to_be_visible()
        expect(line).to_have_value(typed)
    by.axe_clean(desk_page)
    assert not any(room.get("length_ft") for room in Call.objects.get().rooms)

    by.write(desk_page, line, "kitchen 13x15")
    expect(desk_page.locator("#saved")).to_have_text("All saved.")
    expect(refusal).to_be_hidden()
    assert Call.objects.get().rooms[0]["length_ft"] == 13


@pytest.fixture
def night(db: None) -> Night:
    made, now = nights.night(), timezone.now()
    began = (now.astimezone(made.cast.area.zone) - 12 * HOUR).date()
    Crew.objects.update(starts_at=now - HOUR, ends_at=now + 8 * HOUR, at_latest=now + 10 * HOUR, service_day=began)
    Card.objects.update(expires_on=None)
    return made


@pytest.fixture
def sent(night: Night) -> Sent:
    return send(**night.by(night.dispatcher, timezone.now()), call_id=night.call(), crew_id=night.ready.pk)


@pytest.fixture
def lead(night: Night, client: Client) -> Client:
    client.force_login(night.ready.lead.user)
    return client


def tell(client: Client, address: str, **typed: object) -> tuple[int, str]:
    answer = client.post(address, {"key": uuid4(), **typed})
    return answer.status_code, answer.content.decode()


def at_the_door(lead: Client, sent: Sent) -> str:
    for deed in ("leave", "arrive"):
        assert tell(lead, f"/crew/stops/{sent.visit_id}/{deed}")[0] == 302
    return f"/crew/stops/{sent.visit_id}"


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"t_inside": "wet", "h_inside": "58"}, "is no number"),
        ({"t_inside": "nan", "h_inside": "58"}, "Not saved"),
        ({"t_inside": "74", "h_inside": ""}, "taken together"),
        ({"t_inside": "74", "h_inside": "580"}, "Not saved"),
    ],
)
def test_a_reading_that_no_instrument_shows_stays_in_its_field(
    lead: Client, sent: Sent, typed: dict[str, str], says: str
) -> None:
    status, page = tell(lead, f"{at_the_door(lead, sent)}/readings", **typed)

    assert status in {409, 422}
    assert says in page
    assert f'name="t_inside" inputmode="decimal" value="{typed["t_inside"]}"' in page
    assert not AirReading.objects.exists()


@pytest.mark.parametrize("numbers", ["12", "9999", "forklift", "1000 9999"])
def test_a_unit_that_is_not_there_is_not_placed(lead: Client, sent: Sent, numbers: str) -> None:
    status, page = tell(lead, f"{at_the_door(lead, sent)}/place", do="place", numbers=numbers, room_name="kitchen")

    assert status in {404, 409, 422}
    assert "Not saved" in page
    assert f'value="{numbers}"' in page
    assert not Move.objects.filter(why="placed").exists()


def test_a_unit_scanned_twice_is_placed_once(lead: Client, sent: Sent) -> None:
    address = f"{at_the_door(lead, sent)}/place"
    assert tell(lead, address, do="place", numbers="1000 1000", room_name="kitchen")[0] == 302
    tell(lead, address, do="place", numbers="1000", room_name="kitchen")

    assert Move.objects.filter(unit__number="1000", why="placed").count() == 1


@pytest.mark.parametrize("answer", ["", "maybe", "silent"])
def test_an_answer_that_is_neither_yes_nor_no_is_no_answer(lead: Client, sent: Sent, answer: str) -> None:
    tell(lead, f"/crew/call-outs/{sent.call_out_id}/answer", answer=answer)

    assert [step.answer for step in CallOut.objects.get().steps.all()] == [""]


@pytest.mark.parametrize("form", ["leave", "readings", "place"])
@pytest.mark.parametrize("key", ["", "7"])
def test_a_form_that_lost_its_key_is_refused_and_nothing_breaks(lead: Client, sent: Sent, form: str, key: str) -> None:
    answer = lead.post(f"/crew/stops/{sent.visit_id}/{form}", {"key": key, "numbers": "1000", "do": "place"})

    assert 400 <= answer.status_code < 500
    assert Visit.objects.get(pk=sent.visit_id).left_at is None
