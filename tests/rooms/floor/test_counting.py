"""Counting in the warehouse: today's list, a whole vehicle, and what had happened where record and floor differed."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from equipment.audit import audit
from equipment.models import CountList, Discrepancy, UnitNow
from tests.equipment.cast import Cast
from tests.rooms.floor.hands import press, words

pytestmark = pytest.mark.django_db
DAILY, VAN = "/warehouse/north/counting", "/warehouse/north/counting/V1"


def unseen(*numbers: str, days: int) -> None:
    UnitNow.objects.filter(unit__number__in=numbers).update(seen_at=timezone.now() - timedelta(days=days))


def test_the_daily_list_takes_the_riskiest_twenty_and_shrinks_as_it_is_counted(keeper: Client, cast: Cast) -> None:
    numbers = cast.units(*[f"{n:04}" for n in range(1, 26)])
    unseen(*numbers, days=3)
    unseen("0025", days=29)
    drawn = words(press(keeper, DAILY, "draw"))
    assert "20 of 20 still to count" in drawn
    assert drawn.index("0025 Air mover Not seen for 29 days.") < drawn.index("0001 Air mover Not seen for 3 days.")
    assert "0024 Air mover" not in drawn

    counted = words(press(keeper, DAILY, "scan", numbers="25"))
    assert "0025 Counted Here, as the record says." in counted
    assert "19 of 20 still to count" in counted
    assert "19 of 20 still to count" in words(press(keeper, DAILY, "draw"))
    assert CountList.objects.count() == 1

    gone = words(press(keeper, DAILY, "not_found", number="0001", note="daily count"))
    assert "0001 Written down as not found" in gone
    assert cast.now("0001").holder.kind == "not_found"
    assert audit() == ()


def test_a_unit_that_the_record_has_elsewhere_is_counted_here_and_can_be_taken_back(keeper: Client, cast: Cast) -> None:
    cast.units("0001", at=cast.van)
    found = press(keeper, DAILY, "scan", numbers="1")
    assert "0001 Counted, found here" in words(found)
    assert "The record had it elsewhere" in words(found)
    assert str(cast.now("0001").holder) == "North warehouse"
    press(keeper, DAILY, "undo", move_id=cast.now("0001").unit.moves.latest("id").pk)
    assert str(cast.now("0001").holder) == "Van 1"
    assert audit() == ()


def test_a_whole_vehicle_is_compared_with_the_record(keeper: Client, cast: Cast) -> None:
    cast.units("0001", "0002", at=cast.van)
    cast.units("0003")
    unseen("0001", "0002", days=2)
    opened = keeper.get(VAN)
    address = VAN + opened.context["count"].address
    assert "2 of 2 still to be seen" in words(opened)
    press(keeper, address, "scan", numbers="1")
    page = words(press(keeper, address, "scan", numbers="3"))
    assert "1 of 3 still to be seen" in page
    assert "0003 Air mover, the record said North warehouse" in page
    assert "0002 Air mover Ready. Last seen" in page
    assert "by warehouse" in page or "by manager" in page
    assert "1 of 3 still to be seen" in words(keeper.get(address))
    done = words(press(keeper, address, "not_found", number="0002", note="count of Van 1"))
    assert "Everything that the record has aboard was seen, and 1 more." in done
    assert audit() == ()


@pytest.mark.parametrize("began", ["", "yesterday", "2026-13-40T99:00:00Z", "2999-01-01T00:00:00+00:00", "2020-01-01"])
def test_a_count_without_a_usable_beginning_begins_now(keeper: Client, cast: Cast, began: str) -> None:
    cast.units("0001", at=cast.van)
    unseen("0001", days=1)
    page = keeper.get(VAN, {"began": began})
    assert "1 of 1 still to be seen" in words(page)
    assert abs(page.context["count"].began_at - timezone.now()) < timedelta(minutes=1)


def test_a_difference_is_settled_only_with_a_reason(keeper: Client, cast: Cast) -> None:
    cast.units("0001", at=cast.van)
    press(keeper, DAILY, "scan", numbers="1")
    difference, address = Discrepancy.objects.get(), "/warehouse/north/differences"
    assert "The record said: Van 1 (ready). The floor: counted at North warehouse." in words(keeper.get(address))
    silent = press(keeper, address, "explain", id=difference.pk, reason="", words=" ")
    assert silent.status_code == 422
    assert "Say what had happened, in a few words." in words(silent)
    press(keeper, address, "explain", id=difference.pk, reason="Moved without a scan", words="by Kim")
    difference.refresh_from_db()
    assert difference.explanation == "Moved without a scan: by Kim"
    assert "Record and floor agree." in words(keeper.get(address))


@pytest.mark.parametrize("many", [1, 15])
def test_the_number_of_queries_does_not_depend_on_the_number_of_units(
    keeper: Client, cast: Cast, many: int, django_assert_num_queries: Any
) -> None:
    numbers = cast.units(*[f"{n:04}" for n in range(1, many + 1)])
    unseen(*numbers, days=3)
    cast.units(*[f"1{n}" for n in numbers], at=cast.van)
    cast.units(*[f"2{n}" for n in numbers], at=cast.other_van)
    press(keeper, DAILY, "draw")
    press(keeper, VAN, "scan", numbers=" ".join(f"2{n}" for n in numbers))
    for page, queries in ((DAILY, 7), (VAN, 7), ("/warehouse/north/differences", 5)):
        with django_assert_num_queries(queries):
            assert keeper.get(page).status_code == 200
