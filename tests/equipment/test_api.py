"""The API of equipment: the same use cases over HTTP, with keys, problem details and roles."""

from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.contrib.auth.models import User
from django.utils import timezone
from rest_framework.test import APIClient

from equipment.audit import audit
from equipment.models import Alarm, Discrepancy, Move, Reservation
from tests.equipment.cast import Cast

pytestmark = pytest.mark.django_db


class Caller:
    """Somebody signed in, sending JSON with a new key for each write."""

    def __init__(self, user: User) -> None:
        self.client = APIClient()
        self.client.force_authenticate(user)

    def get(self, path: str, **query: Any) -> Any:
        return self.client.get(f"/api/v1/{path}", query)

    def post(self, path: str, key: Any = None, **body: Any) -> Any:
        headers = {"Idempotency-Key": str(key or uuid4())}
        return self.client.post(f"/api/v1/{path}", body, format="json", headers=headers)


@pytest.fixture
def desk(cast: Cast) -> Caller:
    return Caller(cast.dispatcher)


@pytest.fixture
def floor(cast: Cast) -> Caller:
    return Caller(cast.keeper)


def wanted(cast: Cast, job: Any, units: int) -> dict[str, Any]:
    start = timezone.now()
    return {
        "job_id": job.pk,
        "wanted": [{"pool_id": cast.pool().pk, "units": units}],
        "starts_at": start.isoformat(),
        "ends_at": (start + timedelta(days=3)).isoformat(),
        "keep_for": "00:30:00",
        "leads_reason": "wet hall",
    }


def test_a_unit_goes_round_over_http(cast: Cast, desk: Caller, floor: Caller) -> None:
    cast.units("0001", "0002")
    job, lead = cast.job(), Caller(cast.lead)
    held = desk.post("holds", **wanted(cast, job, 1))
    assert held.status_code == 201, held.data
    (promise,) = held.data["reservation_ids"]
    assert desk.post(f"holds/{promise}/confirm").data["state"] == "confirmed"
    listed = desk.post(
        "load-lists",
        vehicle_id=cast.van.pk,
        warehouse_id=cast.north.pk,
        departs_at=timezone.now().isoformat(),
        crew_name="Crew A",
        lines=[{"model_id": cast.mover.pk, "job_id": job.pk, "reservation_id": promise, "stop_order": 1, "wanted": 1}],
    )
    assert listed.status_code == 201, listed.data
    assert listed.data["lines"][0]["lacking"] == 1
    out = floor.post("moves/scan-out", numbers=["1"], vehicle_id=cast.van.pk, load_list_id=listed.data["id"])
    assert out.data["scans"][0]["word"] == "loaded", out.data
    assert floor.get(f"load-lists/{listed.data['id']}").data["state"] == "loaded"
    placed = lead.post(
        "moves/place",
        job_id=job.pk,
        room_name="hall",
        numbers=["0001"],
        hour_meters=[{"number": "0001", "hours": 120.5}],
    )
    assert placed.data["scans"][0]["word"] == "placed", placed.data
    there = desk.post(f"jobs/{job.pk}/close")
    assert (there.status_code, there.data["code"], there.data["numbers"]) == (409, "units_still_there", ["0001"])
    lead.post("moves/take-up", job_id=job.pk, vehicle_id=cast.van.pk, numbers=["0001"])
    floor.post("moves/scan-in", warehouse_id=cast.north.pk, numbers=["0001"])
    assert floor.get(f"warehouses/{cast.north.pk}/cleaning").data[0]["steps"][0] == {
        "word": "cleaned",
        "name": "cleaned",
    }
    ready = floor.post("units/condition", numbers=["0001"], condition="ready", steps=["cleaned", "tested"])
    assert ready.data["scans"][0]["word"] == "ready"
    history = floor.get("units/1").data
    assert [row["what"] for row in history["rows"]][-2:] == ["loaded", "first entry"]
    assert desk.post(f"jobs/{job.pk}/close").status_code == 200
    assert audit() == ()


def test_a_short_hold_answers_with_problem_details(cast: Cast, desk: Caller) -> None:
    cast.units("0001")
    cast.units("0002", at=cast.south)
    answer = desk.post("holds", **wanted(cast, cast.job(), 2))
    assert (answer.status_code, answer["Content-Type"]) == (409, "application/problem+json")
    assert answer.data["code"] == "short"
    assert answer.data["short"][0]["free"] == 1
    assert answer.data["short"][0]["elsewhere"][0]["place"] == "South warehouse"


def test_the_same_key_gives_the_same_answer(cast: Cast, desk: Caller, floor: Caller) -> None:
    cast.units("0001")
    key, body = uuid4(), wanted(cast, cast.job(), 1)
    assert desk.post("holds", key, **body).data == desk.post("holds", key, **body).data
    assert Reservation.objects.count() == 1
    assert desk.post("holds", key, **{**body, "leads_reason": "other"}).data["code"] == "key_reused"
    unkeyed = floor.client.post("/api/v1/moves/scan-in", {"numbers": ["1"], "warehouse_id": 1}, format="json")
    assert unkeyed.data["code"] == "key_missing"


def test_what_is_free_when_and_where(cast: Cast, desk: Caller) -> None:
    cast.units("0001", "0002")
    cast.units("0003", at=cast.south)
    job = cast.job()
    (promise,) = desk.post("holds", **wanted(cast, job, 1)).data["reservation_ids"]
    rows = desk.get("availability", wanted=2).data["results"]
    assert [(row["place"], row["stock"], row["free"]) for row in rows] == [
        ("North warehouse", 2, 1),
        ("South warehouse", 1, 1),
    ]
    holding = desk.get(f"pools/{cast.pool().pk}/holdings").data[0]
    assert (holding["reservation_id"], holding["job_number"]) == (promise, job.number)
    start = timezone.now()
    need = {"starts_at": start.isoformat(), "ends_at": (start + timedelta(days=1)).isoformat()}
    sources = desk.get("sources", model_id=cast.mover.pk, wanted=1, lat=45.64, lon=-122.6, **need).data
    assert [source["name"] for source in sources] == ["North warehouse", "South warehouse"]
    assert desk.get("sources", model_id=1).status_code == 400


def test_undo_correct_count_and_settle(cast: Cast, floor: Caller) -> None:
    cast.units("0001", "0002")
    scan = floor.post("moves/scan-out", numbers=["1"], vehicle_id=cast.van.pk).data["scans"][0]
    assert floor.post(f"moves/{scan['move_id']}/undo").data["word"] == "undone"
    scan = floor.post("moves/scan-out", numbers=["1"], vehicle_id=cast.van.pk).data["scans"][0]
    fixed = floor.post(f"moves/{scan['move_id']}/correct", vehicle_id=cast.other_van.pk, reason="the other van")
    assert fixed.data["said"] == "corrected: Van 2"
    counted = floor.post("counts", numbers=["2"], vehicle_id=cast.van.pk, whole_place=True).data
    assert [row["number"] for row in counted["brought_here"]] == ["0002"]
    difference = floor.get("discrepancies").data[0]
    assert floor.post(f"discrepancies/{difference['id']}/settle", explanation="lent").status_code == 200
    assert not Discrepancy.objects.filter(settled_at=None).exists()
    alarm = Alarm.objects.create(area=cast.area, kind="custody", text="look", raised_at=timezone.now())
    assert floor.get("alarms").data[0]["text"] == "look"
    assert floor.post(f"alarms/{alarm.pk}/settle", what_was_done="looked").data == {"id": alarm.pk}
    assert floor.get("alarms").data == []
    assert audit() == ()


def test_transfers_name_what_is_missing(cast: Cast, floor: Caller) -> None:
    cast.units("0001", "0002")
    way = {"from_warehouse_id": cast.north.pk, "to_warehouse_id": cast.south.pk}
    assert floor.post("transfers/send", numbers=["1", "2"], **way).status_code == 200
    assert floor.post("transfers/receive", numbers=["1"], warehouse_id=cast.south.pk).data["missing"] == ["0002"]


def test_roles_and_wrong_input(cast: Cast, floor: Caller, desk: Caller) -> None:
    cast.units("0001", condition="held_back", water_category=3)
    assert desk.post("moves/scan-out", numbers=["1"], vehicle_id=cast.van.pk).data["code"] == "not_allowed"
    assert Caller(cast.lead).get("units").status_code == 403
    stop = floor.post("moves/scan-out", numbers=["1"], vehicle_id=cast.van.pk)
    assert (stop.status_code, stop.data["code"], stop.data["numbers"]) == (409, "not_decontaminated", ["0001"])
    unknown = floor.post("moves/scan-out", numbers=["1"], vehicle_id=cast.van.pk, colour="red")
    assert unknown.data["errors"] == {"colour": ["There is no such field."]}
    late = floor.post(
        "moves/scan-in",
        numbers=["1"],
        warehouse_id=cast.north.pk,
        happened_at=(timezone.now() + timedelta(days=1)).isoformat(),
    )
    assert "happened_at" in late.data["errors"]
    assert floor.get("units/8888").data["code"] == "not_found"
    assert not Move.objects.exclude(why="opening").exists()
