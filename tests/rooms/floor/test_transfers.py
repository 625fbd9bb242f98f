"""Sent, on the road, received; what did not arrive is named while the driver is still there."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from equipment import custody
from equipment.audit import audit
from equipment.models import Discrepancy
from tests.equipment.cast import Cast
from tests.rooms.floor.hands import press, words

pytestmark = pytest.mark.django_db
SEND, RECEIVE = "/warehouse/north/transfers/south", "/warehouse/south/transfers"


def test_a_transfer_goes_by_the_big_field_and_names_what_is_missing(keeper: Client, cast: Cast) -> None:
    cast.units("0001", "0002", "0003")
    for number in ("1", "2", "3"):
        sent = press(keeper, SEND, "scan", numbers=number)
    assert "0003 Sent" in words(sent)
    assert "3 on the road there from here" in words(sent)
    assert "3 sent here and not received" in words(keeper.get(RECEIVE))
    assert "0001 Air mover, on the road to South warehouse" in words(keeper.get("/warehouse/north/transfers"))

    first = press(keeper, RECEIVE, "scan", numbers="1 3")
    assert "Still missing: 0002." in words(first)
    assert "1 sent here and not received" in words(first)
    assert "0002 Air mover Sent from North warehouse" in words(first)

    gone = press(keeper, RECEIVE, "not_found", number="0002", note="sent to South warehouse and not received")
    assert "0002 Written down as not found" in words(gone)
    assert "Everything that was sent here has been received." in words(gone)
    assert cast.now("0002").holder.kind == "not_found"
    assert Discrepancy.objects.get().said == "on the road to South warehouse (ready)"

    late = press(keeper, RECEIVE, "scan", numbers="2")
    assert "Everything that was sent here has arrived." in words(late)
    assert audit() == ()


def test_a_sending_is_taken_back_and_the_same_form_twice_sends_once(keeper: Client, cast: Cast) -> None:
    cast.units("0001")
    typed = {"do": "scan", "key": "11111111-2222-4333-8444-555555555555", "numbers": "1"}
    first, again = keeper.post(SEND, typed), keeper.post(SEND, typed)
    assert (first.status_code, again.status_code) == (200, 200)
    moves = cast.now("0001").unit.moves
    assert moves.count() == 2
    sent = moves.get(why="sent")
    back = press(keeper, SEND, "undo", move_id=sent.pk)
    assert "0001 Taken back" in words(back)
    assert str(cast.now("0001").holder) == "North warehouse"
    assert "Nothing is on the road there from here" in words(back)
    assert audit() == ()


def test_a_unit_from_category_3_water_is_sent_with_a_caution(keeper: Client, cast: Cast) -> None:
    cast.units("0001", condition="held_back", water_category=3)
    sent = words(press(keeper, SEND, "scan", numbers="1"))
    assert "Keep it apart from clean equipment." in sent
    assert "keep apart: category 3 water" in sent


def test_what_is_a_day_on_the_road_is_marked(keeper: Client, cast: Cast) -> None:
    cast.units("0001", "0002", since=timezone.now() - timedelta(days=9))
    for number, hours in (("0001", 25), ("0002", 23)):
        custody.send_transfer(
            **cast.by(cast.keeper, timezone.now()),
            numbers=(number,),
            from_warehouse_id=cast.north.pk,
            to_warehouse_id=cast.south.pk,
            happened_at=timezone.now() - timedelta(hours=hours),
        )
    assert words(keeper.get(RECEIVE)).count("a day or more on the road") == 1


def test_sending_to_itself_or_nowhere_is_refused_and_what_was_typed_stays(keeper: Client, cast: Cast) -> None:
    cast.units("0001")
    itself = press(keeper, "/warehouse/north/transfers/north", "scan", numbers="1")
    assert itself.status_code == 422
    assert 'value="1"' in itself.content.decode()
    assert keeper.get("/warehouse/north/transfers/nowhere").status_code == 404
    unknown = press(keeper, RECEIVE, "scan", numbers="7777")
    assert unknown.status_code == 404
    assert "No unit has the number 7777" in words(unknown)


@pytest.mark.parametrize("many", [1, 9])
def test_the_number_of_queries_does_not_depend_on_the_number_of_units(
    keeper: Client, cast: Cast, many: int, django_assert_num_queries: Any
) -> None:
    numbers = cast.units(*[f"{n:04}" for n in range(1, many + 1)])
    press(keeper, SEND, "scan", numbers=" ".join(numbers))
    for page, queries in ((SEND, 8), (RECEIVE, 8), ("/warehouse/north/transfers", 8)):
        with django_assert_num_queries(queries):
            assert keeper.get(page).status_code == 200


def test_what_comes_late_from_a_device_happened_when_it_says(keeper: Client, cast: Cast) -> None:
    cast.units("0001")
    earlier = timezone.now().replace(microsecond=0) - timedelta(hours=3)
    press(keeper, SEND, "scan", numbers="1", happened_at=earlier.isoformat())
    press(keeper, RECEIVE, "scan", numbers="1", happened_at=(earlier + timedelta(hours=1)).isoformat())
    times = dict(cast.now("0001").unit.moves.values_list("why", "happened_at"))
    assert (times["sent"], times["received"]) == (earlier, earlier + timedelta(hours=1))
    assert "data-queue" in keeper.get(RECEIVE).content.decode()
    assert audit() == ()
