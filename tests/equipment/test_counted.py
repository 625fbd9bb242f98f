"""Counted accessories: what is taken, added, moved and counted adds up; the floor wins; the least is warned of."""

from typing import Any

import pytest
from django.test import Client
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from equipment import counted, places
from equipment.models import CountedStock
from equipment.selectors import availability
from equipment.selectors.counted import counted_at, counted_short
from jobs.models import JournalEntry
from jobs.refusals import NotThere, Unusable
from tests.equipment.cast import NIGHT, Cast

CORD = "Cord 50 ft"


@pytest.fixture
def here(cast: Cast) -> int:
    """The north warehouse's holder, with ten cords, at least four."""
    place = places.holder_for_warehouse(cast.north.pk)
    CountedStock.objects.create(place=place, item=CORD, quantity=10, minimum=4, counted_at=NIGHT)
    return place.pk


def held(place_id: int, item: str = CORD) -> int:
    return CountedStock.objects.get(place=place_id, item=item).quantity


def test_taking_adding_and_moving(cast: Cast, here: int) -> None:
    van = places.holder_for_vehicle(cast.van.pk).pk
    assert counted.take_counted(**cast.by(cast.keeper), place_id=here, item=CORD, quantity=3).caution == ""
    low = counted.take_counted(**cast.by(cast.keeper), place_id=here, item=CORD, quantity=4)
    assert low.caution == "Below the least there should be at North warehouse: 3 of 4."
    assert counted.add_counted(**cast.by(cast.keeper), place_id=here, item=CORD, quantity=5).quantity == 8
    left, aboard = counted.move_counted(
        **cast.by(cast.lead), from_place_id=here, to_place_id=van, item=CORD, quantity=6
    )

    assert (left.quantity, aboard.quantity, held(here), held(van)) == (2, 6, 2, 6)
    entries = JournalEntry.objects.filter(kind="counted_moved").order_by("pk")
    assert [(entry.data["was"], entry.data["is"]) for entry in entries] == [(8, 2), (0, 6)]


def test_the_same_answer_for_the_same_key(cast: Cast, here: int) -> None:
    by = cast.by(cast.keeper)
    for _ in range(2):
        counted.take_counted(**by, place_id=here, item=CORD, quantity=3)
    assert held(here) == 7


def test_more_than_the_record_has_can_be_taken_and_is_said(cast: Cast, here: int) -> None:
    van = places.holder_for_vehicle(cast.van.pk).pk
    left, aboard = counted.move_counted(
        **cast.by(cast.keeper), from_place_id=here, to_place_id=van, item=CORD, quantity=12
    )

    assert (left.quantity, aboard.quantity) == (0, 12)
    assert left.caution == "The record had 10 here: count again at a quiet time."


def test_a_count_replaces_the_number_and_keeps_the_old_one(cast: Cast, here: int) -> None:
    later = NIGHT.replace(hour=9)
    (now,) = counted.count_counted(**cast.by(cast.keeper, later), place_id=here, counts=((CORD, 2),))

    assert (now.quantity, now.caution[:9]) == (2, "Below the")
    row = CountedStock.objects.get(place=here)
    assert row.counted_at == later
    assert JournalEntry.objects.get(kind="counted_counted").data == {"counted": row.pk, "was": 10, "is": 2}


def test_a_new_item_is_kept_from_now_on_and_short_ones_come_first(cast: Cast, here: int) -> None:
    counted.add_counted(**cast.by(cast.keeper), place_id=here, item=" Poly ", quantity=2, unit_word="roll")
    counted.set_counted_minimum(**cast.by(cast.keeper), place_id=here, item="Poly", minimum=5)

    rows = counted_at(warehouse_id=cast.north.pk)
    assert [(row.item, row.unit_word, row.quantity, row.short) for row in rows] == [
        ("Poly", "roll", 2, 3),
        (CORD, "each", 10, 0),
    ]


REFUSED: list[tuple[dict[str, Any], type[Exception]]] = [
    ({"quantity": 0}, Unusable),
    ({"quantity": -1}, Unusable),
    ({"item": "Kite"}, NotThere),
    ({"place_id": 987_654}, NotThere),
]


@pytest.mark.parametrize(("wrong", "refusal"), REFUSED)
def test_what_cannot_be_meant_is_refused(
    cast: Cast, here: int, wrong: dict[str, Any], refusal: type[Exception]
) -> None:
    with pytest.raises(refusal):
        counted.take_counted(**cast.by(cast.keeper), **{"place_id": here, "item": CORD, "quantity": 1, **wrong})
    assert held(here) == 10


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(
        st.tuples(st.sampled_from(["take", "add", "out", "back", "count"]), st.integers(1, 12)),
        max_size=10,
    )
)
def test_the_record_follows_a_plain_tally(cast: Cast, here: int, deeds: list[tuple[str, int]]) -> None:
    van = places.holder_for_vehicle(cast.van.pk).pk
    CountedStock.objects.update_or_create(
        place_id=van, item=CORD, defaults={"quantity": 0, "counted_at": NIGHT, "minimum": 0}
    )
    CountedStock.objects.filter(place=here).update(quantity=10)
    tally = {here: 10, van: 0}
    for deed, n in deeds:
        by = cast.by(cast.keeper)
        if deed == "take":
            counted.take_counted(**by, place_id=here, item=CORD, quantity=n)
            tally[here] = max(0, tally[here] - n)
        elif deed == "add":
            counted.add_counted(**by, place_id=here, item=CORD, quantity=n)
            tally[here] += n
        elif deed == "count":
            counted.count_counted(**by, place_id=van, counts=((CORD, n),))
            tally[van] = n
        else:
            source, target = (here, van) if deed == "out" else (van, here)
            counted.move_counted(**by, from_place_id=source, to_place_id=target, item=CORD, quantity=n)
            tally[source], tally[target] = max(0, tally[source] - n), tally[target] + n
        assert {here: held(here), van: held(van)} == tally


def test_the_page_takes_counts_and_loads(cast: Cast, here: int, client: Client) -> None:
    client.force_login(cast.keeper)
    key = "7d0f3f2e-5d0c-4f0e-9f4e-0d6a5a3f3b1a"
    page = client.post(
        "/warehouse/north/accessories", {"key": key, "do": "take", "item": CORD, "quantity": "7"}
    ).content.decode()

    assert held(here) == 3
    assert "Below the least" in page
    assert "1 below the least" in page
    refused = client.post("/warehouse/north/accessories", {"key": key, "do": "take", "item": CORD, "quantity": ""})
    assert "Say how many." in refused.content.decode()


def test_the_restock_page_loads_what_the_vehicle_lacks(cast: Cast, here: int, client: Client) -> None:
    van = places.holder_for_vehicle(cast.van.pk)
    CountedStock.objects.create(place=van, item=CORD, quantity=1, minimum=20, counted_at=NIGHT)
    assert [(row.place, row.short) for row in counted_short(area_id=cast.area.pk)] == [("Van 1", 19)]
    client.force_login(cast.keeper)
    assert "10 loaded" in client.get("/warehouse/north/restock/V1").content.decode()
    client.post(
        "/warehouse/north/restock/V1",
        {
            "key": "7d0f3f2e-5d0c-4f0e-9f4e-0d6a5a3f3b1b",
            "do": "load_item",
            "item": CORD,
            "quantity": "10",
            "vehicle_id": cast.van.pk,
        },
    )

    assert (held(here), held(van.pk)) == (0, 11)


def test_a_vehicle_goes_into_the_workshop_and_comes_back(cast: Cast, client: Client) -> None:
    cast.units("0001", at=cast.van)
    client.force_login(cast.keeper)
    address = "/warehouse/north/restock/V1"
    gone = client.post(address, {"key": "7d0f3f2e-5d0c-4f0e-9f4e-0d6a5a3f3b1c", "do": "workshop"}).content.decode()
    assert "Aboard: 1. It counts for nothing until the vehicle is back." in gone
    assert "in the workshop" in client.get("/warehouse/north").content.decode()
    assert [row.stock for row in availability(area_id=cast.area.pk, now=NIGHT)] == [0]
    client.post(address, {"key": "7d0f3f2e-5d0c-4f0e-9f4e-0d6a5a3f3b1d", "do": "back"})
    assert [row.stock for row in availability(area_id=cast.area.pk, now=NIGHT)] == [1]
