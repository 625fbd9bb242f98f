"""One loss over HTTP, from the first ring to the closed job, as each role's programs send it."""

from base64 import b64encode
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
import time_machine
from django.contrib.auth.models import User
from django.test import Client

from equipment.models import Alarm, Move, UnitNow
from jobs import due_work
from jobs.models import Call, Job, Visit
from tests.dispatch import night as nights
from tests.dispatch.night import CALL, NIGHT, Night

FRIDAY, FRIDAY_TEN = date(2026, 1, 16), datetime(2026, 1, 16, 18, tzinfo=UTC)
SHIFT, AT_LATEST = timedelta(hours=9), timedelta(hours=12)
PROBLEM = "application/problem+json"


class Caller:
    """Somebody signed in, sending JSON through every layer with a new key for each write."""

    def __init__(self, user: User | None = None) -> None:
        self.client = Client()
        if user is not None:
            self.client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")

    def get(self, path: str, status: int = 200) -> Any:
        answer = self.client.get(f"/api/v1/{path}")
        assert answer.status_code == status, answer.content
        return answer.json()

    def post(self, path: str, status: int = 200, *, key: str = "", **body: Any) -> Any:
        """The answer's data; a refusal must be a problem whose status is the answer's."""
        headers = {"Idempotency-Key": key or str(uuid4())}
        answer = self.client.post(f"/api/v1/{path}", body, "application/json", headers=headers)
        assert answer.status_code == status, answer.content
        data = answer.json()
        if status >= 400:
            assert answer["Content-Type"].startswith(PROBLEM)
            assert data["status"] == status
            assert data["code"]
        return data


@pytest.fixture
def clock() -> Iterator[Any]:
    with time_machine.travel(NIGHT, tick=False) as traveller:
        yield traveller


@pytest.fixture
def desk(clock: Any, night: Night) -> Caller:
    return Caller(night.dispatcher)


@pytest.fixture
def floor(clock: Any, night: Night) -> Caller:
    return Caller(night.cast.keeper)


@pytest.fixture
def ada(clock: Any, night: Night) -> Caller:
    """The lead of the crew that has equipment aboard."""
    return Caller(night.ready.lead.user)


def take(desk: Caller, night: Night) -> int:
    """A call with enough to send."""
    taken = desk.post("calls", 201, area_id=night.cast.area.pk, callback_number="360-555-0199")
    for field, value in CALL.items():
        desk.post(f"calls/{taken['call_id']}/answers", field=field, value=value, seen=0)
    return int(taken["call_id"])


def crew_sent(desk: Caller, night: Night) -> Any:
    return desk.post(f"calls/{take(desk, night)}/send", 201, crew_id=night.ready.pk)


def numbers_at(job_id: int) -> list[str]:
    return sorted(UnitNow.objects.filter(holder__job_id=job_id).values_list("unit__number", flat=True))


def read_point(lead: Caller, visit: int, value: float) -> Any:
    air = [{"where": "inside", "dry_bulb_f": 74, "rh_pct": 58}, {"where": "outside", "dry_bulb_f": 44, "rh_pct": 80}]
    return lead.post(f"stops/{visit}/readings", 201, air=air, materials=[{"point": 1, "value": value}])


@pytest.mark.django_db
def test_one_loss_over_http(clock: Any, night: Night, desk: Caller, floor: Caller, ada: Caller, settings: Any) -> None:
    hours = {"starts_at": FRIDAY_TEN, "ends_at": FRIDAY_TEN + SHIFT, "at_latest": FRIDAY_TEN + AT_LATEST}
    nights.crew(night.cast, "Friday", night.cast.van, night.ready.lead, service_day=FRIDAY, **hours)
    call_id = take(desk, night)
    assert desk.get(f"calls/{call_id}")["call_id"] == call_id
    offers = desk.get(f"calls/{call_id}/offers")
    assert "N1" in {row["crew"] for row in offers["offers"]}
    sent = desk.post(f"calls/{call_id}/send", 201, crew_id=night.ready.pk)
    job, visit = sent["job_id"], sent["visit_id"]
    assert desk.get(f"jobs/{job}/sizing")
    assert ada.post(f"call-outs/{sent['call_out_id']}/answer", answer="leaving")

    day = ada.get("my-day")
    assert [stop["visit_id"] for stop in day["stops"]] == [visit]
    assert {"count": 3, "model": "Air mover"} in day["stops"][0]["bring"]
    assert ada.post(f"stops/{visit}/leave")["state"] == Visit.State.UNDER_WAY
    ada.post(f"stops/{visit}/arrive")
    placed = ["1000", "1001", "1900"]
    assert {
        scan["word"] for scan in ada.post(f"stops/{visit}/place", numbers=placed, room_name="kitchen")["scans"]
    } == {"placed"}
    point = {"room_name": "kitchen", "material": "drywall", "meter": "pin meter", "scale": "percent_mc"}
    ada.post(f"stops/{visit}/points", 201, **point, dry_standard=10, goal=12)
    assert not read_point(ada, visit, 24)["at_goal"]
    done = ada.post(f"stops/{visit}/finish", note="kitchen set")
    assert (done["stage"], done["next_on"]) == (Job.Stage.DRYING, FRIDAY.isoformat())
    assert numbers_at(job) == placed

    plan = desk.post("plans", 202, area=night.cast.area.code, day=FRIDAY.isoformat(), seconds=1)
    due_work.run_due()
    assert {type(term["dollars"]) for term in desk.get(f"plans/{plan['plan_id']}")["cost"]} == {float}
    assert desk.post(f"plans/{plan['plan_id']}/publish")["placed"] == 1

    clock.move_to(FRIDAY_TEN + timedelta(minutes=10))
    visit = ada.get("my-day")["stops"][0]["visit_id"]
    ada.post(f"stops/{visit}/arrive")
    assert read_point(ada, visit, 11)["at_goal"]
    refused = desk.post(f"jobs/{job}/close", 409)
    assert refused["code"] == "units_still_there"
    ada.post(f"stops/{visit}/take-up", numbers=placed)
    ada.post(f"stops/{visit}/finish")

    came = floor.post("moves/scan-in", warehouse_id=night.cast.north.pk, numbers=placed)
    assert len(came["scans"]) == len(placed)
    assert set(UnitNow.objects.filter(unit__number__in=placed).values_list("condition", flat=True)) == {
        "not_yet_cleaned"
    }
    floor.post("units/condition", numbers=placed, condition="ready", steps=["cleaned", "tested"])
    assert set(UnitNow.objects.filter(unit__number__in=placed).values_list("condition", flat=True)) == {"ready"}
    desk.post(f"jobs/{job}/close")
    assert Job.objects.get(pk=job).stage == Job.Stage.CLOSED


@pytest.mark.django_db
def test_the_same_key_gives_the_same_answer_and_other_content_is_refused(night: Night, desk: Caller) -> None:
    key, body = str(uuid4()), {"area_id": night.cast.area.pk, "callback_number": "360-555-0177"}
    first = desk.post("calls", 201, key=key, **body)
    assert desk.post("calls", 201, key=key, **body) == first
    assert Call.objects.count() == 1
    refused = desk.post("calls", 409, key=key, **{**body, "callback_number": "360-555-0178"})
    assert refused["code"] == "key_reused"
    assert Call.objects.count() == 1


@pytest.mark.django_db
def test_units_placed_twice_with_one_key_are_placed_once(night: Night, desk: Caller, ada: Caller) -> None:
    visit = crew_sent(desk, night)["visit_id"]
    key = str(uuid4())
    first = ada.post(f"stops/{visit}/place", key=key, numbers=["1000"], room_name="kitchen")
    assert ada.post(f"stops/{visit}/place", key=key, numbers=["1000"], room_name="kitchen") == first
    assert Move.objects.filter(unit__number="1000", why="placed").count() == 1


@pytest.mark.django_db
def test_every_way_of_being_refused_says_its_code(night: Night, desk: Caller, ada: Caller) -> None:
    visit = crew_sent(desk, night)["visit_id"]
    unasked = Caller(night.ready.lead.user).client.post(f"/api/v1/stops/{visit}/leave", {}, "application/json")
    assert (unasked.status_code, unasked.json()["code"], unasked["Content-Type"]) == (400, "key_missing", PROBLEM)
    assert ada.post(f"stops/{visit}/leave", 400, key="seven")["code"] == "key_malformed"
    assert ada.post(f"stops/{visit + 900}/leave", 404)["code"] == "stop_not_found"
    assert ada.post(f"stops/{visit}/place", 404, numbers=["9876"])["code"] == "unit_unknown"
    doubtful = ada.post(f"stops/{visit}/readings", 422, air=[{"where": "inside", "dry_bulb_f": 7.4, "rh_pct": 58}])
    assert doubtful["code"] == "readings_doubtful"
    assert doubtful["doubts"]
    assert "plenty" in ada.post(f"stops/{visit}/place", 400, numbers=["1000"], plenty=True)["errors"]


@pytest.mark.django_db
def test_each_role_reaches_its_own_verbs_and_nobody_reaches_any(
    night: Night, desk: Caller, floor: Caller, ada: Caller
) -> None:
    sent = crew_sent(desk, night)
    visit, nobody = sent["visit_id"], Caller()
    ben = Caller(night.empty.lead.user)
    for caller, path, status in (
        (desk, f"stops/{visit}/leave", 403),
        (floor, f"stops/{visit}/leave", 403),
        (floor, f"calls/{Call.objects.get().pk}/send", 403),
        (ada, f"calls/{Call.objects.get().pk}/send", 403),
        (ada, "plans", 403),
        (ada, f"jobs/{sent['job_id']}/close", 403),
        (ben, f"stops/{visit}/leave", 404),
        (nobody, f"stops/{visit}/leave", 401),
        (nobody, "calls", 401),
    ):
        caller.post(path, status)
    ada.get("areas/river/board", 403)
    nobody.get("my-day", 401)
    assert Visit.objects.get(pk=visit).left_at is None


@pytest.mark.django_db
def test_the_board_tells_over_http_what_to_look_at(night: Night, desk: Caller) -> None:
    crew_sent(desk, night)
    raised = Alarm.objects.create(
        area=night.cast.area, kind="unit_missing", text="1007 was not found.", raised_at=NIGHT
    )
    board = desk.get("areas/river/board")
    assert {"alarm_id": raised.pk, "said": raised.text} == {
        name: board["alarms"][0][name] for name in ("alarm_id", "said")
    }
    assert "N1" in {crew["name"] for crew in board["crews"]}


@pytest.mark.django_db
def test_a_program_signs_in_with_name_and_password(night: Night, clock: Any) -> None:
    user = night.dispatcher
    user.set_password("by the pump, all night")
    user.save()
    token = b64encode(f"{user.username}:by the pump, all night".encode()).decode()
    answer = Client().get("/api/v1/calls", headers={"Authorization": f"Basic {token}"})
    assert answer.status_code == 200
    wrong = Client().get("/api/v1/calls", headers={"Authorization": f"Basic {b64encode(b'x:y').decode()}"})
    assert (wrong.status_code, wrong["Content-Type"]) == (401, PROBLEM)
