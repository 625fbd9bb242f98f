"""Everything that the warehouse's pages can do can be done over HTTP, by the same use cases under the caller's key."""

import re
from collections.abc import Iterator
from typing import Any
from uuid import uuid4

import pytest
from django.urls import URLResolver, get_resolver
from django.utils import timezone

from equipment.audit import audit
from equipment.models import EquipmentModel
from tests.architecture import order
from tests.equipment.cast import DAY, HOUR, Cast
from tests.equipment.test_api import Caller

pytestmark = pytest.mark.django_db
CORD = "Cord 50 ft"
USE_CASE = re.compile(r'@use_case\("(\w+)"')
TIMERS = {"end_of_promise", "expire_hold"}


@pytest.fixture
def floor(cast: Cast) -> Caller:
    return Caller(cast.keeper)


def _verbs(patterns: Any) -> Iterator[str]:
    for pattern in patterns:
        if isinstance(pattern, URLResolver):
            yield from _verbs(pattern.url_patterns)
        elif view := getattr(pattern.callback, "cls", None):
            verbs = getattr(view(**pattern.callback.initkwargs), "verbs", {})
            yield from verbs.values()


def test_every_use_case_of_equipment_has_an_address() -> None:
    written = {
        name for path in sorted((order.ROOT / "equipment").rglob("*.py")) for name in USE_CASE.findall(path.read_text())
    }
    assert written > TIMERS
    assert written - TIMERS - set(_verbs(get_resolver().url_patterns)) == set()


def test_items_over_http(cast: Cast, floor: Caller) -> None:
    north, van, key = {"warehouse_id": cast.north.pk}, {"vehicle_id": cast.van.pk}, uuid4()
    assert floor.post("counted/add", **north, item=CORD, quantity=9, unit_word="each").data["quantity"] == 9
    floor.post("counted/minimum", **north, item=CORD, minimum=6)
    for _ in range(2):
        low = floor.post("counted/take", key, **north, item=CORD, quantity=4)
        assert (low.status_code, low.data["quantity"]) == (200, 5)
    (alarm,) = floor.get("alarms").data
    assert alarm["text"] == "Cord 50 ft at North warehouse: fewer than the least there should be."
    floor.post("counted/count", **north, counts=[{"item": CORD, "quantity": 8}])
    assert floor.get("alarms").data == []
    moved = floor.post("counted/move", origin=north, to=van, item=CORD, quantity=2).data
    assert [(row["place"], row["quantity"]) for row in moved] == [("North warehouse", 6), ("Van 1", 2)]
    assert [row["quantity"] for row in floor.get("counted", **van).data] == [2]
    both = floor.post("counted/take", **north, **van, item=CORD, quantity=1)
    assert (both.status_code, both.data["code"]) == (400, "invalid")


def test_rented_serviced_missing_and_in_the_workshop(cast: Cast, floor: Caller) -> None:
    EquipmentModel.objects.filter(code="LGR").update(service_hours=100)
    cast.units("0001", model=cast.dehumidifier, hour_meter=130.0)
    cast.units("0002", at=cast.van)
    came = timezone.now() - 2 * DAY
    rent = {"model_id": cast.dehumidifier.pk, "warehouse_id": cast.north.pk, "supplier": "Quarry Street Rental"}
    units = [{"number": "R1", "supplier_number": "QS 77"}]
    rented = floor.post("rentals", **rent, daily_cost=40, units=units, happened_at=came.isoformat())
    assert (rented.status_code, rented.data["scans"][0]["word"]) == (201, "rented_in"), rented.data
    running = floor.get("rentals").data
    assert (running["daily_cost"], running["running"][0]["days"]) == ("40.00", 3)
    ended = floor.post("rentals/call-off", numbers=["R1"], call_off_number="CO-9")
    assert ended.data["scans"][0]["word"] == "called_off"
    assert floor.get("rentals").data["called_off"][0]["supplier_number"] == "QS 77"

    due = f"warehouses/{cast.north.pk}/service-due"
    assert [row["number"] for row in floor.get(due).data] == ["0001"]
    assert floor.post("units/service", number="1", hour_meter=131).data["next_due_h"] == 231
    assert floor.get(due).data == []

    workshop = f"vehicles/{cast.van.pk}/workshop"
    assert floor.post(workshop, in_workshop=True).data == {
        "vehicle_id": cast.van.pk,
        "name": "Van 1",
        "in_workshop": True,
        "aboard": 1,
    }
    stock = {row["place"]: row["stock"] for row in floor.get("availability", model_id=cast.mover.pk).data["results"]}
    assert stock["Van 1"] == 0
    floor.post(workshop, in_workshop=False)
    assert [row["ready"] for row in floor.get("aboard").data] == [1]
    gone = floor.post("units/not-found", numbers=["2"], note="count of Van 1")
    assert gone.data["scans"][0]["word"] == "not_found"
    assert audit() == ()


def test_counts_and_lists_of_a_warehouse(cast: Cast, floor: Caller) -> None:
    cast.units("0001", "0002")
    listed = f"warehouses/{cast.north.pk}/count-list"
    assert floor.get(listed).status_code == 404
    drawn = floor.post(listed)
    assert (drawn.status_code, len(drawn.data["lines"])) == (200, 2)
    floor.post("counts", numbers=["1"], warehouse_id=cast.north.pk)
    assert [line["counted"] for line in floor.get(listed).data["lines"]] == [False, True]

    count = {"warehouse_id": cast.north.pk, "vehicle_id": cast.van.pk, "model_id": cast.mover.pk, "quantity": 2}
    fast = floor.post("counts/by-model", **count).data["fast_count_id"]
    assert floor.post(f"counts/by-model/{fast}/numbers", numbers=["2"]).data["lacking"] == 1
    assert floor.post(f"counts/by-model/{fast}/take-back", number="2").data["given"] == 0
    (waiting,) = floor.get(f"warehouses/{cast.north.pk}/counts-by-model").data
    assert (waiting["quantity"], waiting["lacking"]) == (2, 2)
    assert floor.post(f"counts/by-model/{fast}/explain", explanation="counted twice").status_code == 200
    began = (timezone.now() - HOUR).isoformat()
    assert floor.get(f"vehicles/{cast.van.pk}/count", began_at=began).data["units"] == []
    floor.post("transfers/send", numbers=["1"], from_warehouse_id=cast.north.pk, to_warehouse_id=cast.south.pk)
    assert [row["number"] for row in floor.get(f"warehouses/{cast.south.pk}/on-the-road").data["coming"]] == ["0001"]
    for path in ("left-behind", f"warehouses/{cast.north.pk}/returns", f"warehouses/{cast.north.pk}/repairs"):
        assert floor.get(path).status_code == 200
    assert audit() == ()


def test_a_list_is_looked_over_and_taken_in_once(cast: Cast, floor: Caller) -> None:
    cast.units("0001")
    text = floor.get("lists/units.csv").content.decode()
    header, row = text.splitlines()
    new = f"{header}\n{row}\n{row.replace('0001', '0044')}\n"
    dry = floor.post("lists/units/dry-run", text=new)
    assert (dry.data["new"], dry.data["same"], dry.data["problems"]) == (["0044"], 1, [])
    bad = floor.post("lists/units/dry-run", text=new.replace(",AM,", ",AN,"))
    assert (bad.status_code, bad.data["problems"][0]["line"], bad.data["problems"][0]["column"]) == (200, 2, "model")
    refused = floor.post("lists/units", text=new.replace(",AM,", ",AN,"))
    assert (refused.status_code, refused.data["code"]) == (422, "bad_rows")
    key = uuid4()
    for _ in range(2):
        assert floor.post("lists/units", key, text=new).data == {"new": 1, "changed": 0, "same": 1}
    assert str(cast.now("0044").holder) == "North warehouse"
    assert floor.post("lists/models/dry-run", text="code\n").status_code == 403
    assert Caller(cast.manager).get("lists/models.csv").content.decode().startswith("code,name,kind")
    entries = [{"number": "0050", "model_code": "AM", "holder": "warehouse", "place_id": cast.north.pk}]
    assert Caller(cast.manager).post("units/enter", entries=entries).data == {"entered": 1}


def test_a_hold_is_closed_and_a_list_is_canceled(cast: Cast, floor: Caller) -> None:
    cast.units("0001")
    now = timezone.now()
    held = floor.post(
        "holds",
        job_id=cast.job().pk,
        wanted=[{"pool_id": cast.pool().pk, "units": 1}],
        starts_at=now.isoformat(),
        ends_at=(now + DAY).isoformat(),
        keep_for="01:00:00",
        leads_reason="wet hall",
    ).data["reservation_ids"][0]
    assert floor.post(f"holds/{held}/close", reason="dry").data["state"] == "closed"
    line = {"model_id": cast.mover.pk, "wanted": 1}
    where = {"vehicle_id": cast.van.pk, "warehouse_id": cast.north.pk}
    listed = floor.post("load-lists", **where, departs_at=now.isoformat(), crew_name="A", lines=[line]).data["id"]
    assert floor.post(f"load-lists/{listed}/cancel").data["state"] == "canceled"


def test_a_told_loss_is_sized(cast: Cast) -> None:
    refused = Caller(cast.dispatcher).post("estimates", loss={"rooms": 1})
    assert (refused.status_code, refused.data["code"]) == (422, "loss_unusable")
