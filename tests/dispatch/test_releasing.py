"""A tired lead goes home in one action: others take the stops, promises are kept where possible, customers told."""

from datetime import datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
import time_machine
from django.test import Client

from dispatch.models import Crew, Notice, Stop, WorkSpell
from dispatch.releasing import LeadAtDoor, NothingToRelease, Released, release_lead
from dispatch.transports import EMAIL
from jobs.models import Contact, JournalEntry, Visit
from jobs.refusals import Unusable
from tests.dispatch import night as nights
from tests.dispatch.night import NIGHT, TONIGHT, Night

FRIDAY = TONIGHT + timedelta(days=1)
SEVEN = NIGHT.replace(day=16, hour=15, minute=0)  # 7:00 in the morning, Pacific time
HOUR = timedelta(hours=1)
HOURS = {"service_day": FRIDAY, "starts_at": SEVEN, "ends_at": SEVEN + 9 * HOUR, "at_latest": SEVEN + 12 * HOUR}


@pytest.fixture
def morning(night: Night) -> Night:
    """Ada, on duty since noon, leads a crew on Friday, too; Ben leads another, Cas (with a lapsed card) a third."""
    WorkSpell.objects.create(person=night.ready.lead, starts_at=NIGHT - 11 * HOUR)
    for name, was in (("F1", night.ready), ("F2", night.empty), ("F3", night.lapsed)):
        nights.crew(night.cast, name, was.vehicle, was.lead, **HOURS)
    Crew.objects.filter(service_day=TONIGHT).update(ends_at=NIGHT + HOUR, at_latest=NIGHT + HOUR)
    return night


def stop_at(night: Night, crew: str, hour: float, *, phone: str = "360-555-0123", **facts: Any) -> Stop:
    job = night.cast.job()
    if phone:
        Contact.objects.create(job=job, role="owner", name="Wilma", phone=phone, lets_in=True)
    at = SEVEN + hour * HOUR
    visit = night.visit(job, due_on=FRIDAY, promised_start=at, **facts)
    row = Crew.objects.get(name=crew)
    leave = at + timedelta(seconds=visit.service_s)
    return Stop.objects.create(
        crew=row, visit=visit, position=row.stops.count() + 1, arrive_at=at, start_at=at, leave_at=leave
    )


def release(night: Night, **facts: Any) -> Released:
    return release_lead(**night.by(night.dispatcher), person_id=night.ready.lead_id, **facts)


def crew_of(stop: Stop) -> str:
    return Stop.objects.get(visit_id=stop.visit_id).crew.name


def test_the_morning_goes_to_who_may_and_promises_are_kept(morning: Night) -> None:
    first, second = stop_at(morning, "F1", 1), stop_at(morning, "F1", 4)
    theirs = stop_at(morning, "F2", 2.5)

    done = release(morning, until=SEVEN + 10 * HOUR, reason="sixteen hours")

    # Cas's card has lapsed; Ben is free at both times, so nobody's time moves.
    assert [crew_of(stop) for stop in (first, second, theirs)] == ["F2"] * 3
    assert [(row.was, row.starts_at) for row in done.stops] == [(stop.start_at,) * 2 for stop in (first, second)]
    assert done.moved_besides == ()
    order = list(Stop.objects.filter(crew__name="F2").values_list("visit_id", "position"))
    assert order == [(first.visit_id, 1), (theirs.visit_id, 2), (second.visit_id, 3)]
    assert {row.text.partition(".")[0] for row in Notice.objects.all()} == {
        "You are released until Fri 5:00 PM: rest, and do not drive tired"
    }
    assert not WorkSpell.objects.filter(person=morning.ready.lead, ends_at__isnull=True).exists()
    assert done.until == SEVEN + 10 * HOUR
    assert JournalEntry.objects.filter(kind="lead_released").count() == 2


def test_customers_whose_time_moves_are_told_and_those_without_a_number_are_named(morning: Night) -> None:
    mine = [stop_at(morning, "F1", 1), stop_at(morning, "F1", 1.5, phone="")]
    for stop in mine:
        Contact.objects.filter(job=stop.visit.job).update(reach_by=EMAIL, email="wilma@example.com")
    stop_at(morning, "F2", 1)

    done = release(morning)

    moved = [row for row in (*done.stops, *done.moved_besides) if row.moved]
    assert moved
    for row in moved:
        assert row.starts_at == Stop.objects.get(visit_id=row.visit_id).start_at
        notice = Notice.objects.filter(pk=row.notice_id).first()
        has_number = Contact.objects.filter(job_id=row.job_id).exists()
        assert (notice is not None) == has_number
        if notice is not None:
            local = row.starts_at.astimezone(morning.cast.area.zone)
            assert f"{local:%-I:%M %p}" in notice.text
    starts = [stop.start_at for stop in Stop.objects.filter(crew__name="F2").order_by("position")]
    assert starts == sorted(starts)
    assert len(starts) == 3


def test_a_stop_nobody_may_do_stays_due_on_nobodys_route_with_the_reason(morning: Night) -> None:
    stop = stop_at(morning, "F1", 1, needs={"skills": ["water", "microbial"]})
    (row,) = release(morning).stops
    assert (row.crew_id, row.starts_at) == (None, None)
    assert "F2: Ben holds no microbial remediation card" in row.why
    assert not Stop.objects.filter(visit_id=stop.visit_id).exists()
    assert Visit.objects.get(pk=stop.visit_id).state == Visit.State.DUE


def test_what_begins_after_the_rest_stays_theirs(morning: Night) -> None:
    early, soon, late = (stop_at(morning, "F1", hour) for hour in (0.5, 3, 6))
    done = release(morning, until=SEVEN + 3 * HOUR)
    assert [row.visit_id for row in done.stops] == [early.visit_id]
    assert [crew_of(stop) for stop in (early, soon, late)] == ["F2", "F1", "F1"]
    # The crew begins when the rest is over, so the stop right at its start moves by the drive there, and is told.
    assert Crew.objects.get(name="F1").starts_at == done.until
    (moved,) = done.moved_besides
    assert moved.visit_id == soon.visit_id
    assert moved.starts_at > soon.start_at
    assert moved.notice_id is not None
    assert Stop.objects.get(visit_id=late.visit_id).start_at == late.start_at


def test_refusals_change_nothing(morning: Night) -> None:
    stop = stop_at(morning, "F1", 1)
    for until in (NIGHT, NIGHT + 80 * HOUR):
        with pytest.raises(Unusable, match="until when"):
            release(morning, until=until)
    with pytest.raises(NothingToRelease):
        release_lead(**morning.by(morning.dispatcher), person_id=nights.person(morning.cast, "Idle").pk)
    Visit.objects.filter(pk=stop.visit_id).update(state="under_way", arrived_at=NIGHT)
    with pytest.raises(LeadAtDoor):
        release(morning)
    assert crew_of(stop) == "F1"
    assert not Notice.objects.exists()


@time_machine.travel(NIGHT, tick=False)
def test_page_and_api(morning: Night) -> None:
    stop_at(morning, "F1", 0.5)
    nobody = stop_at(morning, "F1", 1.5, needs={"skills": ["water", "microbial"]})
    desk = Client()
    desk.force_login(morning.dispatcher, backend="django.contrib.auth.backends.ModelBackend")
    page = desk.get("/desk/release").content.decode()
    assert "On duty for 11.0 hours" in page
    assert page.index("Ada") < page.index("Ben"), "the longest on duty stands first"
    leads = desk.get(f"/api/v1/areas/{morning.cast.area.code}/leads").json()["leads"]
    assert [len(row["stops"]) for row in leads if row["name"] == "Ada"] == [2]

    key = str(uuid4())
    answer = desk.post(
        "/desk/release", {"key": key, "person_id": morning.ready.lead_id, "reason": "tired"}, follow=True
    )
    text = answer.content.decode()
    assert answer.redirect_chain == [(f"/desk/release/{key}", 302)]
    assert "Call these yourself: 1" in text
    assert nobody.visit.job.number in text
    assert "Wilma 360-555-0123" in text
    again = desk.post(
        f"/api/v1/people/{morning.empty.lead_id}/release",
        {"until": datetime.isoformat(NIGHT - HOUR)},
        "application/json",
        headers={"Idempotency-Key": str(uuid4())},
    )
    assert (again.status_code, again.json()["code"]) == (422, "unusable_value")
    messages = desk.get("/desk/notices").content.decode()
    assert "You are released until" in messages
    kept = desk.post(f"/desk/people/{morning.empty.lead_id}/reach", {"key": str(uuid4()), "reach_by": "email"})
    assert (kept.status_code, "Give the e-mail address" in kept.content.decode()) == (422, True)
