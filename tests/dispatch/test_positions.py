"""Where a crew was last: by its reports or by its phone, whichever is newer, with its age, for those who may see it."""

from collections.abc import Iterator
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
import time_machine
from django.contrib.auth.models import User
from django.test import Client
from rest_framework.test import APIClient

from dispatch.desk.map_data import features
from dispatch.desk.pages import board
from dispatch.emergencies import Sent, send
from dispatch.models import Crew, PhonePosition
from dispatch.offering import offers
from dispatch.positions import NotAtWork, Step, forget_position, last_known, tell_position
from jobs import retention
from jobs.models import UseCaseCall
from jobs.refusals import Unusable
from tests.dispatch.night import NIGHT, Night

MINUTE = timedelta(minutes=1)
LATER = NIGHT + 30 * MINUTE
HERE = {"lat": 45.70, "lon": -122.60, "accuracy_m": 12.0}


@pytest.fixture(autouse=True)
def at_night() -> Iterator[None]:
    with time_machine.travel(NIGHT, tick=False):
        yield


@pytest.fixture
def sent(night: Night) -> Sent:
    return send(**night.by(night.dispatcher), call_id=night.call(), crew_id=night.empty.pk)


def client(user: User) -> Client:
    signed_in = Client()
    signed_in.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    return signed_in


def lead(night: Night) -> User:
    user = night.empty.lead.user
    assert user is not None
    return user


def report(night: Night, sent: Sent, what: str, **typed: Any) -> Any:
    address = f"/crew/stops/{sent.visit_id}/{what}"
    return client(lead(night)).post(address, {"key": str(uuid4()), **typed}, follow=True)


def test_the_newest_of_report_and_phone_counts_with_its_age(night: Night) -> None:
    crew = night.empty
    step = Step("J-1 in Camas", 45.6, -122.4, NIGHT, NIGHT + 20 * MINUTE, None)
    assert last_known(crew=crew, steps=[], now=NIGHT) is None

    reported = last_known(crew=crew, steps=[step], now=LATER)
    assert reported is not None
    assert (reported.place, reported.lat, reported.age_min, reported.by_phone) == ("at J-1 in Camas", 45.6, 10, False)
    assert reported.age == "10 min ago"

    crew.phone_position = PhonePosition(crew=crew, lat=45.6, lon=-122.4, accuracy_m=9, at=NIGHT + 25 * MINUTE)
    by_phone = last_known(crew=crew, steps=[step], now=NIGHT + 100 * MINUTE)
    assert by_phone is not None
    assert (by_phone.place, by_phone.age, by_phone.by_phone) == (
        "at J-1 in Camas, by the phone",
        "1 h 15 min ago",
        True,
    )

    crew.phone_position.at = NIGHT + 19 * MINUTE
    assert last_known(crew=crew, steps=[step], now=LATER) == reported


def test_on_the_way_the_last_place_known_is_where_the_crew_came_from(night: Night) -> None:
    moving = last_known(crew=night.empty, steps=[Step("J-2 in Camas", 45.6, -122.4, NIGHT, None, None)], now=LATER)
    assert moving is not None
    assert moving.place == "on the way to J-2 in Camas"
    assert (moving.lat, moving.lon) == (night.empty.start.lat, night.empty.start.lon)


def test_a_position_goes_with_a_report_and_stands_on_board_offers_and_map(night: Night, sent: Sent) -> None:
    position = {"position_lat": "45.70000", "position_lon": "-122.60000", "position_accuracy_m": "12"}
    told = report(night, sent, "leave", position_age_s="600", **position)
    assert told.status_code == 200
    row = PhonePosition.objects.get()
    assert (row.crew_id, row.lat, row.lon, row.at) == (night.empty.pk, 45.7, -122.6, NIGHT - 10 * MINUTE)

    with time_machine.travel(LATER, tick=False):
        report(night, sent, "arrive", position_age_s="0", **position | {"position_lat": "45.71000"})
        PhonePosition.objects.update(at=LATER + MINUTE)
    now = LATER + 6 * MINUTE
    line = next(crew for crew in board(area=night.cast.area, now=now).crews if crew.name == night.empty.name)
    assert line.last is not None
    assert (line.last.by_phone, line.last.age_min, line.last.lat) == (True, 5, 45.71)
    call = night.call(street="88 Alder Bend")
    offer = next(row for row in offers(call_id=call, now=now).offers if row.crew_id == night.empty.pk)
    assert offer.last == line.last
    texts = [point["properties"]["text"] for point in features(area=night.cast.area, now=now)["features"]]
    assert any("by the phone, 5 min ago" in text for text in texts)
    with time_machine.travel(now, tick=False):
        assert "by the phone" in client(lead(night)).get("/crew").content.decode()
        assert "(5 min ago)" in client(night.dispatcher).get("/desk").content.decode()


def test_a_report_is_kept_although_its_position_is_refused(night: Night, sent: Sent) -> None:
    kept = report(night, sent, "leave", position_lat="45.7", position_lon="-122.6", position_accuracy_m="90000")
    assert "Your report was" in kept.content.decode()
    assert UseCaseCall.objects.filter(verb="leave_for_stop", outcome="done").exists()
    assert not PhonePosition.objects.exists()


def test_an_older_position_sent_late_takes_nobody_back(night: Night) -> None:
    by_lead = night.by(lead(night))
    new = tell_position(**by_lead, **HERE)
    old = tell_position(**night.by(lead(night)), **HERE | {"lat": 45.0}, happened_at=NIGHT - MINUTE)
    again = tell_position(**by_lead, **HERE)
    assert (new.newest, old.newest, again) == (True, False, new)
    assert PhonePosition.objects.get().lat == HERE["lat"]


def test_it_is_kept_within_the_crews_hours_only(night: Night) -> None:
    after = night.empty.at_latest + timedelta(hours=2)
    with pytest.raises(NotAtWork):
        tell_position(**night.by(lead(night), after), **HERE)
    with pytest.raises(Unusable):
        tell_position(**night.by(lead(night)), **HERE | {"lat": 91.0})
    assert not PhonePosition.objects.exists()


def test_it_is_erased_on_schedule_and_at_the_leads_word(night: Night) -> None:
    tell_position(**night.by(lead(night)), **HERE)
    record = UseCaseCall.objects.get(verb="tell_position")
    assert "lat" not in record.arguments
    assert retention.would_erase(now=NIGHT + timedelta(hours=23)).rows["positions"] == 0
    assert retention.would_erase(now=NIGHT + timedelta(hours=25)).rows["positions"] == 2

    assert forget_position(**night.by(lead(night))).erased == 1
    record.refresh_from_db()
    assert record.private_arguments is None
    assert not PhonePosition.objects.exists()
    assert retention.would_erase(now=NIGHT + timedelta(hours=25)).rows["positions"] == 0


def test_the_api_tells_and_erases_ones_own_and_the_warehouse_reads_none(night: Night) -> None:
    api = APIClient()
    api.force_authenticate(lead(night))
    told = api.post("/api/v1/my-position", HERE, format="json", headers={"Idempotency-Key": str(uuid4())})
    assert (told.status_code, told.json()["crew_id"]) == (200, night.empty.pk)
    assert api.get("/api/v1/my-day").json()["last"]["by_phone"] is True
    bad = api.post("/api/v1/my-position", HERE | {"lat": 100}, format="json", headers={"Idempotency-Key": str(uuid4())})
    assert bad.status_code in (400, 422)

    desk = APIClient()
    desk.force_authenticate(night.dispatcher)
    key = {"Idempotency-Key": str(uuid4())}
    assert desk.post("/api/v1/my-position", HERE, format="json", headers=key).status_code == 403
    crews = desk.get(f"/api/v1/areas/{night.cast.area.code}/board").json()["crews"]
    assert next(crew for crew in crews if crew["name"] == night.empty.name)["last"]["lat"] == HERE["lat"]

    floor = APIClient()
    floor.force_authenticate(night.cast.keeper)
    assert floor.get(f"/api/v1/areas/{night.cast.area.code}/board").status_code == 403

    gone = api.delete("/api/v1/my-position", headers={"Idempotency-Key": str(uuid4())})
    assert gone.json() == {"erased": 1}
    assert Crew.objects.filter(phone_position__isnull=False).count() == 0
