"""The API of the ground floor: one call from the number to its end, keys, refusals as problem details, who may."""

from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
from django.contrib.auth.models import User
from rest_framework.test import APIClient

from jobs.models import Area, Call, Job, MaterialReading, UseCaseCall, Visit
from tests.jobs.conftest import ENOUGH

PROBLEM = "application/problem+json"


@pytest.fixture
def desk(dispatcher: User) -> APIClient:
    client = APIClient()
    client.force_authenticate(dispatcher)
    return client


@pytest.fixture
def boss(manager: User) -> APIClient:
    client = APIClient()
    client.force_authenticate(manager)
    return client


@pytest.fixture
def post(desk: APIClient) -> Callable[..., Any]:
    def send(path: str, body: dict[str, Any], *, key: object = None, client: APIClient | None = None) -> Any:
        return (client or desk).post(f"/api/v1/{path}", body, format="json", HTTP_IDEMPOTENCY_KEY=str(key or uuid4()))

    return send


def test_a_call_from_its_number_to_a_booked_visit(area: Area, desk: APIClient, post: Callable[..., Any]) -> None:
    taken = post("calls", {"area_id": area.pk, "callback_number": "360-555-0199"})
    assert taken.status_code == 201
    call_id = taken.json()["call_id"]
    for field, value in ENOUGH.items():
        saved = post(f"calls/{call_id}/answers", {"field": field, "value": value, "seen": 0})
        assert saved.status_code == 200, saved.json()

    facts = desk.get(f"/api/v1/calls/{call_id}").json()
    assert facts["missing"] == []
    assert facts["place"]["place"]["county"] == "Clark County"
    assert [call["call_id"] for call in desk.get("/api/v1/calls").json()] == [call_id]

    booked = post(f"calls/{call_id}/book", {"due_on": "2031-12-31"})
    assert booked.status_code == 201, booked.json()
    job_id = booked.json()["job_id"]
    assert desk.get(f"/api/v1/jobs/{job_id}").json()["line"]["town"] == "Vancouver"
    assert [visit["kind"] for visit in desk.get(f"/api/v1/jobs/{job_id}/visits").json()] == ["first"]
    assert desk.get("/api/v1/calls").json() == []


def test_rooms_can_come_all_at_once(call_id: int, post: Callable[..., Any], desk: APIClient) -> None:
    rooms = [{"name": "kitchen", "length_ft": 12, "width_ft": 14, "wet_floor_sqft": 168}, {"name": "hall"}]
    assert post(f"calls/{call_id}/answers", {"field": "rooms", "value": rooms, "seen": 0}).status_code == 200

    rooms[1]["length_ft"] = -4
    refused = post(f"calls/{call_id}/answers", {"field": "rooms", "value": rooms, "seen": 1})
    assert (refused.status_code, refused.json()["where"]) == (422, "rooms[1].length_ft")
    assert [room["name"] for room in desk.get(f"/api/v1/calls/{call_id}").json()["rooms"]] == ["kitchen", "hall"]


def test_the_same_key_answers_the_same_and_other_content_is_refused(area: Area, post: Callable[..., Any]) -> None:
    key = uuid4()
    first = post("calls", {"area_id": area.pk}, key=key)
    again = post("calls", {"area_id": area.pk}, key=key)
    other = post("calls", {"area_id": area.pk, "callback_number": "360-555-0100"}, key=key)

    assert first.json() == again.json()
    assert (other.status_code, other.json()["code"]) == (409, "key_reused")
    assert Call.objects.count() == 1


def test_a_key_may_stand_in_the_body(area: Area, desk: APIClient) -> None:
    body = {"area_id": area.pk, "key": str(uuid4())}
    answers = [desk.post("/api/v1/calls", body, format="json").json() for _ in range(2)]

    assert answers[0] == answers[1]


@pytest.mark.parametrize(("key", "code"), [("", "key_missing"), ("seven", "key_malformed")])
def test_a_write_needs_a_key(area: Area, desk: APIClient, key: str, code: str) -> None:
    answer = desk.post("/api/v1/calls", {"area_id": area.pk}, format="json", HTTP_IDEMPOTENCY_KEY=key)

    assert (answer.status_code, answer.json()["code"]) == (400, code)


def test_refusals_are_problem_details(call_id: int, post: Callable[..., Any]) -> None:
    answer = post(f"calls/{call_id}/answers", {"field": "year_built", "value": "19x6", "seen": 0})

    assert answer.status_code == 422
    assert answer["Content-Type"] == PROBLEM
    assert {"type", "title", "status", "detail", "code"} <= answer.json().keys()
    assert answer.json()["where"] == "year_built"


def test_an_unknown_field_of_a_body_is_named(area: Area, post: Callable[..., Any]) -> None:
    answer = post("calls", {"area_id": area.pk, "callback_nmuber": "360-555-0199"})

    assert answer.status_code == 400
    assert "callback_nmuber" in answer.json()["errors"]
    assert not UseCaseCall.objects.exists()


def test_what_changed_meanwhile_comes_with_both_values(call_id: int, post: Callable[..., Any]) -> None:
    path = f"calls/{call_id}/answers"
    post(path, {"field": "town", "value": "Camas", "seen": 0})
    answer = post(path, {"field": "town", "value": "Washougal", "seen": 0})

    assert (answer.status_code, answer.json()["theirs"], answer.json()["yours"]) == (409, "Camas", "Washougal")


@pytest.mark.parametrize("path", ["calls", "calls/1", "jobs", "jobs/1", "jobs/1/drying-log", "places?zip=98661"])
def test_a_crew_lead_reads_none_of_the_desks(lead: User, path: str) -> None:
    client = APIClient()
    client.force_authenticate(lead)

    assert client.get(f"/api/v1/{path}").status_code == 403


@pytest.mark.django_db
def test_nobody_reads_without_signing_in() -> None:
    assert APIClient().get("/api/v1/jobs").status_code in (401, 403)


def test_jobs_are_filtered_by_stage_and_area(job: Job, desk: APIClient) -> None:
    def numbers(query: str) -> list[str]:
        return [line["number"] for line in desk.get(f"/api/v1/jobs?{query}").json()["results"]]

    assert numbers("") == [job.number]
    assert numbers("stage=drying,at_goal&area=lower-columbia") == [job.number]
    assert numbers("stage=closed") == []
    assert desk.get("/api/v1/jobs?stage=wet").status_code == 400
    assert desk.get("/api/v1/jobs?area=elsewhere").status_code == 404


def test_readings_are_asked_about_once_and_then_kept(job: Job, boss: APIClient, post: Callable[..., Any]) -> None:
    point = {
        "room_name": "kitchen", "material": "drywall", "meter": "pin meter 1", "scale": "relative_0_100",
        "dry_standard": 12, "goal": 14,
    }  # fmt: skip
    assert post(f"jobs/{job.pk}/points", point, client=boss).status_code == 201
    body: dict[str, Any] = {
        "air": [{"where": "inside", "dry_bulb_f": 75, "rh_pct": 50}], "materials": [{"point": 1, "value": 600}]
    }  # fmt: skip
    asked = post(f"jobs/{job.pk}/readings", body, client=boss)
    assert (asked.status_code, asked.json()["code"]) == (422, "readings_doubtful")
    kept = post(f"jobs/{job.pk}/readings", {**body, "confirmed": True}, client=boss)
    assert kept.status_code == 201
    reading = kept.json()["material_ids"][0]
    fixed = post(f"readings/material/{reading}/correction", {"reason": "a zero too many", "value": 60}, client=boss)
    assert fixed.status_code == 200

    log = boss.get(f"/api/v1/jobs/{job.pk}/drying-log").json()
    assert log["points"][0]["last"]["value"] == 60
    assert log["air"][0]["gpp"] == pytest.approx(65, abs=1)
    assert MaterialReading.objects.count() == 2


def test_the_desk_records_no_readings_and_a_lead_only_at_the_stop(
    job: Job, lead: User, post: Callable[..., Any]
) -> None:
    client = APIClient()
    client.force_authenticate(lead)

    assert post(f"jobs/{job.pk}/readings", {"air": []}).status_code == 403
    assert post(f"jobs/{job.pk}/readings", {"air": []}, client=client).status_code == 403


def test_visits_are_added_and_missed(job: Job, visit: Visit, post: Callable[..., Any]) -> None:
    added = post(f"jobs/{job.pk}/visits", {"kind": "inspection", "due_on": "2031-01-02"})
    missed = post(
        f"visits/{visit.pk}/miss", {"reason": "gate locked", "told": "owner", "new_time": "2031-01-01T16:00:00Z"}
    )

    assert added.status_code == 201
    assert missed.json()["due_on"] == "2031-01-01"


def test_a_signature_and_a_word_are_kept(job: Job, post: Callable[..., Any]) -> None:
    assert post(f"jobs/{job.pk}/authorization", {"limits": "no removal"}).status_code == 200
    word = {"topic": "category", "word": 2, "suggestion": 1, "reason": "dishwasher"}
    assert post(f"jobs/{job.pk}/leads-words", word).status_code == 201

    job.refresh_from_db()
    assert (job.category, job.authorized_limits) == (2, "no removal")


@pytest.mark.django_db
def test_places_are_found_or_asked_about(desk: APIClient) -> None:
    found = desk.get("/api/v1/places?zip=97914").json()
    asked = desk.get("/api/v1/places?town=Rainier").json()

    assert (found["place"]["county"], found["place"]["time_zone"]) == ("Malheur County", "America/Boise")
    assert asked["place"] is None
    assert {choice["state"] for choice in asked["choices"]} == {"OR", "WA"}


def test_a_job_is_read_in_few_queries(job: Job, desk: APIClient, django_assert_max_num_queries: Any) -> None:
    with django_assert_max_num_queries(5):
        desk.get(f"/api/v1/jobs/{job.pk}")
    with django_assert_max_num_queries(8):
        desk.get(f"/api/v1/jobs/{job.pk}/drying-log")
