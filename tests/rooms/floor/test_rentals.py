"""Rented units: our number, the supplier's number, what a day costs, and the call-off that ends the charge."""

from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from equipment import custody, selectors
from equipment.audit import audit
from equipment.models import Unit
from tests.equipment.cast import DAY, HOUR, Cast
from tests.rooms.floor.hands import press, words

pytestmark = pytest.mark.django_db
ADDRESS = "/warehouse/north/rentals"


def rent(keeper: Client, cast: Cast, units: str, **how: Any) -> Any:
    typed = {"supplier": "Quarry Street Rental", "model_id": cast.dehumidifier.pk, "daily_cost": "42.50", **how}
    return press(keeper, ADDRESS, "rent", units=units, **typed)


def test_a_unit_is_rented_in_costs_by_the_day_and_is_called_off(keeper: Client, cast: Cast) -> None:
    rented = words(rent(keeper, cast, "r12 QS 4471\nr13 QS 4472"))
    assert "Rented in · 2 units" in rented
    assert "$85.00 a day for 2 units" in rented
    assert "Quarry Street Rental, their number QS 4471. North warehouse, ready." in rented
    assert cast.pool(cast.dehumidifier).stock == 2

    silent = press(keeper, ADDRESS, "call_off", units=["R12"], call_off_number="")
    assert silent.status_code == 422
    assert "Ask the supplier for the call-off number" in words(silent)
    assert 'value="R12" checked' in silent.content.decode()
    done = words(press(keeper, ADDRESS, "call_off", units=["R12"], call_off_number="CO-7"))
    assert "R12 Called off" in done
    assert "Keep it locked up: the risk is ours until it is collected." in done
    assert "$42.50 a day for 1 unit" in done
    assert "call-off number CO-7" in done
    assert Unit.objects.get(number="R12").call_off_number == "CO-7"
    assert audit() == ()


def test_begun_days_are_counted_until_the_call_off(keeper: Client, cast: Cast) -> None:
    now = timezone.now()
    rent(keeper, cast, "R1 77")
    (unit,) = selectors.rentals(area_id=cast.area.pk, now=now + 2 * DAY + HOUR).running
    assert (unit.days, unit.cost_so_far) == (3, Decimal("127.50"))
    custody.call_off(**cast.by(cast.keeper, now + DAY + HOUR), numbers=("R1",), call_off_number="CO-1")
    (unit,) = selectors.rentals(area_id=cast.area.pk, now=now + 9 * DAY).called_off
    assert (unit.days, unit.cost_so_far) == (2, Decimal("85.00"))


def test_a_rented_unit_at_a_job_cannot_be_ticked_and_is_refused(keeper: Client, cast: Cast) -> None:
    rent(keeper, cast, "R1 77")
    job, now = cast.job(), timezone.now()
    custody.scan_out(**cast.by(cast.keeper, now), numbers=("R1",), vehicle_id=cast.van.pk, job_id=job.pk)
    custody.place_units(**cast.by(cast.lead, now), job_id=job.pk, room_name="hall", numbers=("R1",))
    page = keeper.get(ADDRESS)
    assert "At a job" in words(page)
    assert 'name="units" value="R1"' not in page.content.decode()
    refused = press(keeper, ADDRESS, "call_off", units=["R1"], call_off_number="CO-7")
    assert "Take it up first." in words(refused)
    assert Unit.objects.get(number="R1").called_off_at is None


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"units": "R12"}, "Line 1 needs two numbers"),
        ({"units": " "}, "Give at least one unit"),
        ({"supplier": ""}, "Name the supplier."),
        ({"daily_cost": ""}, "Say what one unit costs a day"),
        ({"daily_cost": "-1"}, "greater than or equal to 0"),
        ({"units": "0001 77"}, "The number 0001 belongs to a unit already."),
        ({"units": "R1 77\nR1 78"}, "belongs to a unit already"),
        ({"units": "what? 77"}, "is no unit number"),
    ],
)
def test_what_cannot_be_rented_is_said_and_what_was_typed_stays(
    keeper: Client, cast: Cast, typed: dict[str, str], said: str
) -> None:
    cast.units("0001")
    units = typed.pop("units", "R77 kept")
    refused = rent(keeper, cast, units, **typed)
    assert refused.status_code in {409, 422}
    assert said in words(refused)
    assert units.strip().split("\n")[0] in refused.content.decode()
    assert not Unit.objects.filter(rented=True).exists()


@pytest.mark.parametrize("many", [1, 8])
def test_the_number_of_queries_does_not_depend_on_the_number_of_units(
    keeper: Client, cast: Cast, many: int, django_assert_num_queries: Any
) -> None:
    rent(keeper, cast, "\n".join(f"R{n} S{n}" for n in range(1, many + 2)))
    press(keeper, ADDRESS, "call_off", units=["R1"], call_off_number="CO-7")
    with django_assert_num_queries(8):
        assert keeper.get(ADDRESS).status_code == 200
