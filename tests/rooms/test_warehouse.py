"""The warehouse as the person in it uses it: plain forms, no JavaScript, a fixed number of queries."""

import re
from datetime import timedelta
from io import BytesIO
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.utils import timezone
from pypdf import PdfReader

from equipment import load_lists
from equipment.models import LoadList, Move
from tests.equipment import cast as casting
from tests.equipment.cast import Cast

pytestmark = pytest.mark.django_db
HTML = re.compile(r"<[^>]+>")


@pytest.fixture
def cast(db: None) -> Cast:
    return casting.make()


@pytest.fixture
def keeper(cast: Cast, client: Client) -> Client:
    client.force_login(cast.keeper)
    return client


def words(response: object) -> str:
    """What the page says, without its markup."""
    return " ".join(HTML.sub(" ", response.content.decode()).split())  # type: ignore[attr-defined]


def press(client: Client, address: str, do: str, **typed: object):
    return client.post(address, {"do": do, "key": uuid4(), **typed})


def listed(cast: Cast, *lines: tuple) -> str:
    list_id = load_lists.write_load_list(
        **cast.by(cast.dispatcher, timezone.now()),
        vehicle_id=cast.van.pk,
        warehouse_id=cast.north.pk,
        departs_at=timezone.now() + timedelta(hours=1),
        crew_name="Crew A",
        lines=lines,
    )
    return f"/warehouse/north/load/{list_id}"


def test_only_the_warehouse_and_the_manager_come_in(cast: Cast, client: Client) -> None:
    assert client.get("/warehouse").status_code == 302  # to the sign-in
    client.force_login(cast.lead)
    refused = client.get("/warehouse/north")
    assert refused.status_code == 403
    assert "Warehouse is open to: Manager, Warehouse" in words(refused)
    client.force_login(cast.manager)
    assert client.get("/warehouse/north").status_code == 200


def test_each_page_opens(keeper: Client, cast: Cast) -> None:
    cast.units("0001")
    address = listed(cast, (cast.mover.pk, cast.job().pk, None, 1, 1))
    for page in ("", "/north", "/north/returns", "/north/cleaning", "/north/left-behind", "/north/find?text=Air"):
        answer = keeper.get(f"/warehouse{page}", follow=True)
        assert answer.status_code == 200, page
    for page in (address, "/warehouse/north/restock/V1", "/warehouse/units/0001", "/warehouse/units/1"):
        assert keeper.get(page).status_code == 200, page
    assert keeper.get("/warehouse/nowhere").status_code == 404
    assert keeper.get("/warehouse/units/4444").status_code == 404


def test_a_list_shrinks_as_it_is_scanned_and_the_last_scan_can_be_taken_back(keeper: Client, cast: Cast) -> None:
    cast.units("0001", "0002")
    address = listed(cast, (cast.mover.pk, cast.job().pk, None, 1, 2))
    assert "2 of 2 still to load" in words(keeper.get(address))
    first = press(keeper, address, "scan", numbers="1")
    assert "0001 Loaded" in words(first)
    assert "1 of 2 still to load" in words(first)
    move = re.search(r'name="move_id" value="(\d+)"', first.content.decode())
    assert move
    back = press(keeper, address, "undo", move_id=move[1])
    assert "Taken back" in words(back)
    assert "2 of 2 still to load" in words(back)
    full = press(keeper, address, "scan", numbers="0001 0002")
    assert "Everything on this list is aboard" in words(full)
    assert LoadList.objects.get().state == "loaded"


def test_a_refused_scan_says_so_in_place_and_keeps_what_was_typed(keeper: Client, cast: Cast) -> None:
    cast.units("0001", condition="held_back", water_category=3)
    address = listed(cast, (cast.mover.pk, cast.job().pk, None, 1, 1))
    stop = press(keeper, address, "scan", numbers="0001")
    assert stop.status_code == 409
    assert "Stop: 0001 came back from category 3 water" in words(stop)
    assert 'value="0001"' in stop.content.decode()
    assert press(keeper, address, "scan", numbers="9999").status_code == 404
    assert press(keeper, address, "scan", numbers="forklift").status_code == 422
    nothing = press(keeper, address, "scan", numbers="")
    assert nothing.status_code == 422
    assert "Nothing was scanned" in words(nothing)
    assert not Move.objects.exclude(why="opening").exists()


def test_sending_the_same_scan_twice_is_sending_it_once(keeper: Client, cast: Cast) -> None:
    cast.units("0001")
    address = listed(cast, (cast.mover.pk, cast.job().pk, None, 1, 1))
    key = uuid4()
    for _ in range(2):
        assert "0001 Loaded" in words(keeper.post(address, {"do": "scan", "key": key, "numbers": "1"}))
    assert Move.objects.filter(why="loaded").count() == 1


def test_a_unit_comes_in_dirty_and_is_made_ready(keeper: Client, cast: Cast) -> None:
    job = cast.job()
    cast.units("0001", "0002", at=job, condition="in_use", since=timezone.now() - timedelta(days=3))
    page = press(keeper, "/warehouse/north/returns", "scan", numbers="1")
    assert f"{job.number}: 2 expected, 1 here" in words(page)
    assert "0002 Air mover" in words(page)
    queue = keeper.get("/warehouse/north/cleaning")
    assert "Cleaned and tested" in words(queue)
    done = press(keeper, "/warehouse/north/cleaning", "steps", number="0001", steps=["cleaned", "tested"])
    assert "0001 Ready" in words(done)
    assert cast.pool().stock == 1


def test_decontamination_asks_for_every_step(keeper: Client, cast: Cast) -> None:
    cast.units("0001", condition="held_back", water_category=3)
    address = "/warehouse/north/cleaning"
    half = press(keeper, address, "steps", number="0001", steps=["decontaminated", "tested"])
    assert half.status_code == 409
    assert "Still to do: filter changed" in words(half)
    press(keeper, address, "steps", number="0001", steps=["decontaminated", "filter_changed", "tested"])
    assert cast.now("0001").condition == "ready"


def test_a_unit_is_set_aside_from_its_page(keeper: Client, cast: Cast) -> None:
    cast.units("0001")
    done = press(keeper, "/warehouse/units/0001", "condition", number="0001", condition="broken", note="cord cut")
    assert "cord cut" in words(done)
    assert cast.now("0001").condition == "broken"


def test_restocking_shows_what_is_missing(keeper: Client, cast: Cast) -> None:
    cast.van.standing_stock = {"AM": 2}
    cast.van.save()
    cast.units("0001")
    assert "lacks 2" in words(keeper.get("/warehouse/north"))
    press(keeper, "/warehouse/north/restock/V1", "scan", numbers="1")
    page = words(keeper.get("/warehouse/north/restock/V1"))
    assert "Air mover 2 1 1 0 1 cannot be filled" in page


@pytest.mark.parametrize("more", [1, 12])
def test_the_number_of_queries_does_not_depend_on_the_number_of_things(
    keeper: Client, cast: Cast, more: int, django_assert_num_queries
) -> None:
    numbers = [f"{n:04}" for n in range(1, more + 1)]
    cast.units(*numbers)
    cast.units(*[f"1{n}" for n in numbers], condition="not_yet_cleaned")
    job = cast.job(stage="picked_up")
    cast.units(*[f"2{n}" for n in numbers], at=job, condition="in_use")
    for _ in range(more):
        address = listed(cast, (cast.mover.pk, cast.job().pk, None, 1, 2), (cast.dehumidifier.pk, None, None, 2, 1))
    press(keeper, "/warehouse/north/returns", "scan", numbers="20001")
    pages = {
        "/warehouse/north": 14,
        address: 10,
        "/warehouse/north/returns": 7,
        "/warehouse/north/cleaning": 8,
        "/warehouse/north/left-behind": 6,
        "/warehouse/units/0001": 7,
    }
    for page, queries in pages.items():
        with django_assert_num_queries(queries):
            assert keeper.get(page).status_code == 200


def test_tags_are_printed_with_a_number_that_people_can_read(keeper: Client, cast: Cast) -> None:
    cast.units(*[f"{n:04}" for n in range(1, 13)])
    answer = keeper.get("/warehouse/tags.pdf", {"first": "1", "last": "0011"})
    assert answer["Content-Type"] == "application/pdf"
    pages = PdfReader(BytesIO(answer.content)).pages
    assert len(pages) == 2
    text = " ".join(page.extract_text() for page in pages)
    assert [f"{n:04}" in text for n in range(1, 13)] == [True] * 11 + [False]
    assert keeper.get("/warehouse/tags.pdf", {"first": "5000", "last": "5001"}).status_code == 404
    assert keeper.get("/warehouse/tags.pdf").status_code == 422


def test_tags_of_one_model_and_no_more_than_fit_at_once(keeper: Client, cast: Cast, monkeypatch: Any) -> None:
    cast.units("0001", "0002")
    cast.units("0003", model=cast.dehumidifier)
    page = PdfReader(BytesIO(keeper.get("/warehouse/tags.pdf", {"model_id": cast.dehumidifier.pk}).content)).pages[0]
    assert [number in page.extract_text() for number in ("0001", "0002", "0003")] == [False, False, True]
    monkeypatch.setattr("equipment.labels.AT_MOST", 1)
    many = keeper.get("/warehouse/tags.pdf", {"model_id": cast.mover.pk})
    assert (many.status_code, "more than 1 tags at once" in words(many)) == (422, True)


def test_the_last_entry_is_corrected_by_page_and_the_old_value_is_kept(keeper: Client, cast: Cast) -> None:
    cast.units("0001")
    address = "/warehouse/units/0001"
    press(keeper, "/warehouse/north/restock/V1", "scan", numbers="1")
    last = cast.now("0001").unit.moves.latest("id").pk
    silent = press(keeper, address, "correct", move_id=last, place=f"vehicle:{cast.other_van.pk}", reason="")
    assert (silent.status_code, "A correction says why" in words(silent)) == (422, True)
    assert f'value="vehicle:{cast.other_van.pk}" selected' in silent.content.decode()
    done = words(
        press(keeper, address, "correct", move_id=last, place=f"vehicle:{cast.other_van.pk}", reason="wrong van")
    )
    assert "0001 Corrected" in done
    assert "corrected later" in done
    assert "wrong van" in done
    assert str(cast.now("0001").holder) == "Van 2"
    first = press(keeper, address, "correct", move_id=last, place=f"warehouse:{cast.north.pk}", reason="again")
    assert first.status_code == 409


def test_a_unit_goes_straight_to_another_job_only_from_a_clean_loss(keeper: Client, cast: Cast) -> None:
    clean, dirty, to = cast.job(), cast.job(category=3), cast.job()
    cast.units("0001", at=clean, condition="in_use")
    cast.units("0002", at=dirty, condition="in_use")
    moved = press(keeper, "/warehouse/units/0001", "straight", job_number=to.number.lower(), room_name="hall")
    assert (moved.status_code, str(cast.now("0001").holder)) == (200, to.number)
    stopped = press(keeper, "/warehouse/units/0002", "straight", job_number=to.number, room_name="hall")
    assert (stopped.status_code, "stood in category 3 water" in words(stopped)) == (409, True)
    assert str(cast.now("0002").holder) == dirty.number
    nowhere = press(keeper, "/warehouse/units/0001", "straight", job_number="J-9", room_name="")
    assert nowhere.status_code == 404
