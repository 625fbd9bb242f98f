"""Feeds as other programs read them: RFC 5545 lines, RFC 7946 positions, RFC 4180 rows."""

import csv
import io
import re
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.contrib.auth.models import User
from django.test import Client
from django.utils import timezone

from dispatch.models import Stop
from tests.dispatch.night import NIGHT, Night


def signed_in(who: User) -> Client:
    client = Client()
    client.force_login(who)
    return client


@pytest.fixture
def stop(night: Night) -> Stop:
    """A stop of tomorrow on the route of N1, at a job whose street needs escaping."""
    at = (timezone.now() + timedelta(hours=20)).replace(microsecond=0)
    job = night.cast.job(street="12, Long Gravel Lane of a name that runs over the width of one content line; rear")
    return Stop.objects.create(
        crew=night.ready,
        visit=night.visit(job, due_on=at.date()),
        position=1,
        arrive_at=at,
        start_at=at,
        leave_at=at + timedelta(minutes=40),
    )


def unfolded(feed: bytes) -> dict[str, str]:
    """The properties of the one event, read by the rules of RFC 5545, 3.1 and 3.3.11 alone."""
    for line in feed.split(b"\r\n"):
        assert len(line) <= 75
    text = feed.decode().replace("\r\n ", "")
    event = re.search(r"BEGIN:VEVENT\r\n(.*?)END:VEVENT", text, re.S)
    assert event is not None
    return dict(line.split(":", 1) for line in event.group(1).strip().split("\r\n"))


def test_a_lead_has_a_calendar_of_their_stops_and_its_address_ends_with_the_password(night: Night, stop: Stop) -> None:
    lead = night.ready.lead.user
    answer = signed_in(lead).get("/api/v1/my-calendar")
    assert answer["Content-Type"].startswith("text/calendar")
    told = unfolded(answer.content)
    assert datetime.strptime(told["DTSTART"], "%Y%m%dT%H%M%SZ").replace(tzinfo=UTC) == stop.start_at
    assert datetime.strptime(told["DTEND"], "%Y%m%dT%H%M%SZ").replace(tzinfo=UTC) == stop.leave_at
    assert told["UID"] == f"visit-{stop.visit_id}@ebbline"
    assert told["LOCATION"].startswith(r"12\, Long Gravel Lane")
    assert r"line\; rear" in told["LOCATION"]
    assert told["GEO"] == f"{stop.visit.job.lat};{stop.visit.job.lon}"

    address = re.match(r"<http://[^/]+(/calendar/\S+\.ics)>", answer["Link"]).group(1)  # type: ignore[union-attr]
    stranger = Client()
    assert unfolded(stranger.get(address).content)["UID"] == told["UID"]
    assert stranger.get(address.replace(".ics", "x.ics")).status_code == 404
    lead.set_password("another, after the phone was lost")
    lead.save()
    assert stranger.get(address).status_code == 404


def test_another_lead_sees_nothing_of_it(night: Night, stop: Stop) -> None:
    feed = signed_in(night.empty.lead.user).get("/api/v1/my-calendar").content
    assert b"BEGIN:VEVENT" not in feed


def _positions(geometry: dict[str, Any]) -> list[list[float]]:
    return [geometry["coordinates"]] if geometry["type"] == "Point" else geometry["coordinates"]


@pytest.mark.parametrize("what", ["vehicles", "jobs", "routes"])
def test_maps_are_geojson(night: Night, stop: Stop, what: str) -> None:
    with time_machine.travel(NIGHT, tick=False):
        answer = signed_in(night.dispatcher).get(f"/api/v1/areas/{night.cast.area.code}/map/{what}")
    assert answer["Content-Type"].startswith("application/geo+json")
    told = answer.json()
    assert told["type"] == "FeatureCollection"
    assert told["features"]
    assert "crs" not in told  # RFC 7946, 4: none but WGS 84
    for feature in told["features"]:
        assert set(feature) == {"type", "id", "geometry", "properties"}
        for lon, lat in _positions(feature["geometry"]):
            assert -125 < lon < -116
            assert 42 < lat < 49
        if feature["geometry"]["type"] == "LineString":
            assert len(feature["geometry"]["coordinates"]) >= 2


def test_an_unknown_map_or_area_is_refused_in_json(night: Night) -> None:
    client, code = signed_in(night.dispatcher), night.cast.area.code
    assert client.get(f"/api/v1/areas/{code}/map/people").json()["code"] == "not_found"
    assert client.get("/api/v1/areas/elsewhere/map/jobs").status_code == 404
    assert signed_in(night.cast.lead).get(f"/api/v1/areas/{code}/map/jobs").status_code == 403


@pytest.mark.parametrize("name", ["jobs", "visits", "promises", "reservations", "moves"])
def test_a_month_is_exported_row_by_row(night: Night, stop: Stop, name: str) -> None:
    client, code = signed_in(night.cast.manager), night.cast.area.code
    month = f"{stop.visit.due_on:%Y-%m}"
    answer = client.get(f"/api/v1/areas/{code}/exports/{name}?month={month}")
    assert answer["Content-Type"].startswith("text/csv")
    rows = list(csv.reader(io.StringIO(answer.content.decode(), newline="")))
    assert len({len(row) for row in rows}) == 1
    if name == "visits":
        assert [row[rows[0].index("job")] for row in rows[1:]] == [stop.visit.job.number]
        assert [row[rows[0].index("crew")] for row in rows[1:]] == ["N1"]
    assert client.get(f"/api/v1/areas/{code}/exports/{name}?month=soon").status_code == 422
    assert signed_in(night.dispatcher).get(f"/api/v1/areas/{code}/exports/{name}").status_code == 403
