"""Out to the repairer and back; what comes back is tested before it is ready."""

from typing import Any

import pytest
from django.test import Client

from equipment.audit import audit
from tests.equipment.cast import Cast
from tests.rooms.floor.hands import press, words

pytestmark = pytest.mark.django_db
ADDRESS = "/warehouse/north/repair"


def test_a_broken_unit_goes_out_comes_back_and_waits_for_its_test(keeper: Client, cast: Cast) -> None:
    cast.units("0001", "0002")
    press(keeper, "/warehouse/units/0001", "condition", number="0001", condition="broken", note="cord cut")
    page = words(keeper.get(ADDRESS))
    assert "0001 Air mover still here" in page
    assert "Cord cut, said warehouse." in page
    assert cast.pool().stock == 1

    out = words(press(keeper, ADDRESS, "out", numbers="1", note="cord cut"))
    assert "0001 Air mover out to repair" in out
    assert cast.now("0001").holder.kind == "repair"
    press(keeper, ADDRESS, "out", numbers="2", note="bearing loud")
    assert cast.now("0002").holder.kind == "repair"

    back = words(press(keeper, ADDRESS, "scan", numbers="1"))
    assert "0001 In" in back
    assert (str(cast.now("0001").holder), cast.now("0001").condition) == ("North warehouse", "broken")
    assert cast.pool().stock == 0
    press(keeper, "/warehouse/north/cleaning", "steps", number="0001", steps=["repaired", "tested"])
    assert cast.pool().stock == 1
    assert "0001 Air mover" not in words(keeper.get(ADDRESS))
    assert audit() == ()


def test_the_repairer_is_told_what_is_wrong_and_what_was_typed_stays(keeper: Client, cast: Cast) -> None:
    cast.units("0001")
    refused = press(keeper, ADDRESS, "out", numbers="1", note="")
    assert refused.status_code == 422
    assert "Say what is wrong with it" in words(refused)
    assert 'id="broken" name="numbers" value="1"' in refused.content.decode()
    assert cast.now("0001").condition == "ready"
    unknown = press(keeper, ADDRESS, "out", numbers="77", note="smoke")
    assert unknown.status_code == 404
    assert 'value="smoke"' in unknown.content.decode()


@pytest.mark.parametrize("many", [1, 8])
def test_the_number_of_queries_does_not_depend_on_the_number_of_units(
    keeper: Client, cast: Cast, many: int, django_assert_num_queries: Any
) -> None:
    numbers = cast.units(*[f"{n:04}" for n in range(1, many + 1)])
    cast.units(*[f"1{n}" for n in numbers], condition="broken")
    press(keeper, ADDRESS, "out", numbers=" ".join(numbers), note="flood test failed")
    with django_assert_num_queries(7):
        assert keeper.get(ADDRESS).status_code == 200
