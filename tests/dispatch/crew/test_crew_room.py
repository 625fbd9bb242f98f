"""The crew lead's room: one's own route and nobody else's; refusals in place; a fixed number of queries."""

from collections.abc import Iterator
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
import time_machine
from django.contrib.auth.models import User
from django.test import Client
from django.urls import get_resolver

from dispatch.emergencies import Sent, send
from dispatch.models import Stop
from dispatch.offering import offers
from jobs.models import Job, MaterialReading, PrivateFacts, Visit
from tests.dispatch.night import NIGHT, Night

DAY_QUERIES = 18
STOP_QUERIES = 35
ACCESS = "key box 4417 by the side door"


@pytest.fixture(autouse=True)
def at_night() -> Iterator[None]:
    with time_machine.travel(NIGHT, tick=False):
        yield


def client(user: User) -> Client:
    signed_in = Client()
    signed_in.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    return signed_in


@pytest.fixture
def sent(night: Night) -> Sent:
    return send(**night.by(night.dispatcher), call_id=night.call(access=ACCESS), crew_id=night.empty.pk)


@pytest.fixture
def ben(night: Night) -> Client:
    """The lead of the crew that is sent."""
    return client(night.empty.lead.user)


@pytest.fixture
def ada(night: Night) -> Client:
    """The lead of another crew."""
    return client(night.ready.lead.user)


def post(who: Client, sent: Sent, what: str, **typed: Any) -> Any:
    return who.post(f"/crew/stops/{sent.visit_id}/{what}", {"key": str(uuid4()), **typed})


def addresses(prefix: str, named: str = "visit_id") -> list[str]:
    """Every address below the prefix that names a visit, or something else by its id."""
    found = []
    for pattern in get_resolver().url_patterns:
        for each in getattr(pattern, "url_patterns", [pattern]):
            route = str(pattern.pattern) + str(each.pattern) if each is not pattern else str(each.pattern)
            if route.startswith(prefix) and named in route:
                found.append("/" + route.replace(f"<int:{named}>", "{}"))
    return found


def test_the_day_shows_the_stop_with_what_it_needs(ben: Client, sent: Sent) -> None:
    day = ben.get("/crew").content.decode()
    assert sent.job_number in day
    stop = ben.get(f"/crew/stops/{sent.visit_id}").content.decode()
    for said in (ACCESS, "5230 Teasel Field Court", "Air mover", "North warehouse", "geo:45."):
        assert said in stop


def test_no_address_of_the_room_or_the_api_shows_another_crews_stop(ada: Client, sent: Sent) -> None:
    room, api = addresses("crew/stops/"), addresses("api/v1/stops/")
    assert len(room) >= 7
    assert len(api) >= 7
    for address in room:
        where = address.format(sent.visit_id)
        got, posted = ada.get(where), ada.post(where, {"key": str(uuid4())})
        assert {got.status_code, posted.status_code} <= {404, 405}, where
        assert ACCESS not in got.content.decode() + posted.content.decode()
    body = {"reason": "x", "numbers": ["1000"]}
    for address in api:
        answer = ada.post(
            address.format(sent.visit_id), body, "application/json", headers={"Idempotency-Key": str(uuid4())}
        )
        got = ada.get(address.format(sent.visit_id))
        assert answer.status_code in {404, 400, 405}, address
        assert got.status_code in {404, 405}, address
        assert ACCESS not in answer.content.decode() + got.content.decode()
    assert ACCESS not in ada.get("/crew").content.decode()
    assert Visit.objects.get(pk=sent.visit_id).left_at is None


def test_no_lead_reaches_a_job_past_the_stops_of_the_own_route(ada: Client, ben: Client, sent: Sent) -> None:
    """What belongs to a job is read at the stop; the job's own addresses are the desk's, for the assigned lead too."""
    of_jobs = addresses("api/v1/jobs/", "job_id")
    assert len(of_jobs) >= 12
    for who in (ada, ben):
        for address in of_jobs:
            where = address.format(sent.job_id)
            key = {"Idempotency-Key": str(uuid4())}
            answers = [who.get(where), who.post(where, {}, "application/json", headers=key)]
            for answer in answers:
                assert answer.status_code in {400, 403, 404, 405, 409, 422}, where
                assert ACCESS not in answer.content.decode()
        for page in ("", "/drying-record.pdf", "/sizing.pdf"):
            assert who.get(f"/desk/jobs/{sent.job_number}{page}").status_code in {403, 404}


def test_a_closed_jobs_access_code_is_gone(ben: Client, sent: Sent) -> None:
    Job.objects.filter(pk=sent.job_id).update(stage="closed", closed_at=NIGHT)
    assert PrivateFacts.objects.get(job_id=sent.job_id).access == ACCESS
    assert ACCESS not in ben.get(f"/crew/stops/{sent.visit_id}").content.decode()


def test_leaving_arriving_placing_reading_and_done(ben: Client, sent: Sent) -> None:
    assert post(ben, sent, "leave").status_code == 302
    assert post(ben, sent, "arrive").status_code == 302
    assert post(ben, sent, "place", numbers="2000 2001", room_name="kitchen").status_code == 302
    typed = {
        "t_inside": "74",
        "h_inside": "60",
        "new_room": "kitchen",
        "new_meter": "pin 1",
        "new_scale": "percent_mc",
        "new_standard": "11",
        "new_goal": "15",
        "new_value": "28",
    }
    assert post(ben, sent, "readings", **typed).status_code == 302
    assert MaterialReading.objects.get().value == 28
    assert post(ben, sent, "finish").status_code == 302
    assert Visit.objects.get(pk=sent.visit_id).state == Visit.State.DONE
    assert Job.objects.get(pk=sent.job_id).stage == Job.Stage.DRYING
    assert "2000" in ben.get(f"/crew/stops/{sent.visit_id}").content.decode()


def test_what_was_typed_stands_beside_its_refusal(ben: Client, sent: Sent) -> None:
    post(ben, sent, "arrive")
    page = post(ben, sent, "place", numbers="9876 2000", room_name="the long hall")
    assert page.status_code == 404
    text = page.content.decode()
    assert "No unit has the number 9876" in text
    assert 'value="9876 2000"' in text
    assert 'value="the long hall"' in text
    page = post(ben, sent, "readings", t_inside="75", h_inside="many")
    assert page.status_code == 422
    assert 'value="many"' in page.content.decode()
    page = post(ben, sent, "readings", t_inside="152", h_inside="40")
    assert "confirm that it is meant" in page.content.decode()
    assert post(ben, sent, "readings", t_inside="152", h_inside="40", confirmed="yes").status_code == 302


def test_loaded_takes_the_detour_off_the_route(night: Night, ben: Client, sent: Sent) -> None:
    before = next(row for row in offers(call_id=night.call(), now=NIGHT).offers if row.crew == "N2")
    assert post(ben, sent, "loaded").status_code == 302
    stop = Stop.objects.get(visit_id=sent.visit_id)
    assert stop.fetched_at == NIGHT
    assert "Loaded at North warehouse" in ben.get(f"/crew/stops/{sent.visit_id}").content.decode()
    after = next(row for row in offers(call_id=night.call(), now=NIGHT).offers if row.crew == "N2")
    assert after.arrive_at <= before.arrive_at


def test_both_pages_take_a_fixed_number_of_queries(
    night: Night,
    ben: Client,
    sent: Sent,
    django_assert_num_queries: Any,
) -> None:
    def ask() -> None:
        with django_assert_num_queries(DAY_QUERIES):
            ben.get("/crew")
        with django_assert_num_queries(STOP_QUERIES):
            ben.get(f"/crew/stops/{sent.visit_id}")

    # The first look at private facts is written down; the same look soon after is not.
    ben.get(f"/crew/stops/{sent.visit_id}")
    ask()
    for number in range(6):
        at = NIGHT + timedelta(hours=1 + number)
        visit = night.visit(night.cast.job(number=f"K-{number}"), due_on=night.empty.service_day)
        Stop.objects.create(crew=night.empty, visit=visit, position=2 + number, arrive_at=at, start_at=at, leave_at=at)
    ask()
