"""The page "What is free": what a person at the desk and one in the warehouse read off it, and what the API says."""

from datetime import timedelta
from typing import Any
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.utils import timezone

from equipment import custody, reservations, selectors, vehicles, what_is_free
from equipment.models import Reservation
from jobs import drying
from jobs.models import Job
from tests.equipment import cast as casting
from tests.equipment.cast import DAY, HOUR, NIGHT, Cast
from tests.rooms.test_warehouse import words

pytestmark = pytest.mark.django_db
ZONE = ZoneInfo("America/Los_Angeles")


@pytest.fixture
def cast(db: None) -> Cast:
    return casting.make()


def held(cast: Cast, job: Job, quantity: int, start: Any, end: Any) -> int:
    return reservations.hold(
        **cast.by(cast.dispatcher),
        job_id=job.pk,
        wanted=((cast.pool().pk, quantity),),
        starts_at=start,
        ends_at=end,
        keep_for=HOUR,
        leads_reason="wet",
    ).reservation_ids[0]


def ask(cast: Cast, **asked: str) -> what_is_free.FreePage:
    return what_is_free.free_page(area_id=cast.area.pk, zone=ZONE, asked=asked, now=NIGHT)


def test_now_then_until_when_the_first_hour_and_who_holds_it(cast: Cast, django_assert_num_queries: Any) -> None:
    cast.units("0001", "0002", "0003")
    cast.units("0004", at=cast.van)
    cast.units("0005", condition="not_yet_cleaned")
    cast.units("0006", condition="broken")
    cast.units("0007", at=cast.other_van)
    vehicles.change_vehicle(**cast.by(cast.keeper), vehicle_id=cast.other_van.pk, in_workshop=True)
    job = cast.job()
    held(cast, job, 2, NIGHT + HOUR, NIGHT + 13 * HOUR)
    page = ask(cast)
    (line,) = page.lines
    assert line.free == (("North warehouse", 3), ("Vehicles", 1))
    assert (line.total, line.to_clean, line.in_repair, page.in_workshop) == (4, 1, 1, ("Van 2",))
    with django_assert_num_queries(7):
        one = ask(cast, model="AM", wanted="3").one
    assert one is not None
    assert one.enough
    (north,) = one.warehouses
    assert (north.at.free, north.at.free_until, north.at.free_from) == (3, NIGHT + HOUR, NIGHT + 13 * HOUR)
    assert [(row.job_number, row.quantity, row.ends_at) for row in north.holdings] == [
        (job.number, 2, NIGHT + 13 * HOUR)
    ]
    # 23:59 in Vancouver lies within the promise; its end, 11:47, does not.
    later = ask(cast, model="AM", wanted="2", at="2026-01-15T23:59").one
    assert later is not None
    assert not later.enough
    assert (later.warehouses[0].at.free, later.first, later.first_at) == (1, NIGHT + 13 * HOUR, "North warehouse")
    ended = ask(cast, model="AM", wanted="2", at="2026-01-16T11:47").one
    assert ended is not None
    assert ended.warehouses[0].at.free == 3
    whole_night = ask(cast, model="AM", until="2026-01-16T07:00").one
    assert whole_night is not None
    assert whole_night.warehouses[0].at.free == 1


def test_what_cannot_be_meant_is_said_beside_its_field(cast: Cast) -> None:
    cast.units("0001")
    page = ask(cast, model="XX", wanted="many", at="six", until="2026-01-15T22:00")
    assert set(page.errors) == {"model", "wanted", "at", "until"}
    assert page.typed == {"model": "XX", "wanted": "many", "at": "six", "until": "2026-01-15T22:00"}
    assert page.lines[0].total == 1


def test_expected_back_by_the_drying_forecast_and_else_by_the_promise(cast: Cast) -> None:
    cast.units("0001", "0002", "0003")
    drying_job, unread = cast.job(stage=Job.Stage.DRYING), cast.job(stage=Job.Stage.DRYING)
    for number, job, days in (("0001", drying_job, 9), ("0002", drying_job, 9), ("0003", unread, 1)):
        held(cast, job, 1, NIGHT, NIGHT + days * DAY)
        custody.scan_out(**cast.by(cast.keeper), numbers=(number,), vehicle_id=cast.van.pk, job_id=job.pk)
    point = drying.add_point(
        **cast.by(cast.lead),
        job_id=drying_job.pk,
        room_name="hall",
        material="drywall",
        meter="M1",
        scale="relative",
        dry_standard=12,
        goal=16,
    )
    for day, value in enumerate((60.0, 32.0, 20.0)):
        drying.record_readings(
            **cast.by(cast.lead, NIGHT + day * DAY),
            job_id=drying_job.pk,
            visit_id=None,
            materials=(drying.MaterialValue(point.number, value),),
            confirmed=True,
        )
    now = NIGHT + 2 * DAY
    found = selectors.expected_back(area_id=cast.area.pk, until=now + 3 * DAY, now=now)
    assert [(row.job_number, row.count) for row in found] == [(unread.number, 1), (drying_job.number, 2)]
    by_promise, by_forecast = found
    assert (by_promise.expected_at, by_promise.dry_by) == (NIGHT + DAY, None)
    assert "no forecast" in by_promise.why
    assert by_forecast.dry_from is not None
    assert by_forecast.dry_by is not None
    assert now < by_forecast.dry_from < by_forecast.dry_by == by_forecast.expected_at < now + 3 * DAY
    assert {row.ends_at for row in Reservation.objects.filter(job=drying_job)} == {NIGHT + 9 * DAY}


def test_desk_warehouse_and_programs_ask_the_same(cast: Cast, client: Client) -> None:
    cast.units("0001", "0002")
    now = timezone.now()
    held(cast, cast.job(), 1, now - HOUR, now + 5 * HOUR)
    for who, address in ((cast.dispatcher, "/desk/what-is-free"), (cast.keeper, "/warehouse/north/free")):
        client.force_login(who)
        said = words(client.get(address, {"model": "AM", "wanted": "2"}))
        assert ": Air mover 1 free in all" in said
        assert "2 are free at one place first on" in said
        assert "Who holds it, and until when" in said
        assert "J-1001 North warehouse 1 0" in said
        assert client.get(address, {"wanted": "0"}).status_code == 400
    client.force_login(cast.lead)
    assert client.get("/desk/what-is-free").status_code == 403
    client.force_login(cast.dispatcher)
    (row,) = client.get("/api/v1/availability", {"wanted": 2}).json()["results"]
    assert row["free"] == 1
    assert row["free_from"] is not None
    asked = client.get(
        "/api/v1/expected-back", {"until": (now + timedelta(days=1)).isoformat(), "model_id": row["model_id"]}
    )
    assert asked.status_code == 200
    assert asked.json() == []
    assert client.get("/api/v1/expected-back", {"model_id": "x"}).status_code == 400


def test_times_at_the_end_of_the_calendar_are_refused_and_break_nothing(cast: Cast, client: Client) -> None:
    cast.units("0001")
    client.force_login(cast.dispatcher)
    end = "9999-12-31T23:59:59Z"
    for asked in ({"at": end}, {"until": end}):
        assert client.get("/api/v1/availability", asked).status_code == 422
    assert client.get("/api/v1/expected-back", {"until": end}).status_code == 200
    assert client.get("/desk/what-is-free", {"at": "9999-12-31T23:59"}).status_code == 400
    client.force_login(cast.keeper)
    sent = {"key": str(uuid4()), "numbers": ["0001"], "vehicle_id": cast.van.pk, "happened_at": "0001-01-01T00:00:00Z"}
    assert client.post("/api/v1/moves/scan-out", sent, content_type="application/json").status_code == 400
