"""Help between areas: asked for, given as a crew for the day, declined; who answers is the area that was asked."""

from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
import time_machine
from django.contrib.auth.models import User
from django.test import Client

from dispatch import helping
from dispatch.area_rules import helped
from dispatch.crew_facts import crews_of_day
from dispatch.models import Crew, HelpRequest
from jobs import access
from jobs.models import Area, JournalEntry, Membership
from tests.dispatch import night as nights


@pytest.fixture
def made(db: None) -> nights.Night:
    return nights.night()


@pytest.fixture
def up_river(made: nights.Night) -> tuple[Area, User]:
    area = Area.objects.create(code="up-river", name="Up River")
    user = User.objects.create_user("upriver")
    Membership.objects.create(user=user, area=area, role=access.DISPATCHER)
    return area, user


def _write(user: User, address: str, key: str = "", **body: Any) -> Any:
    client = Client()
    client.force_login(user)
    head = {"Idempotency-Key": key or str(uuid4())}
    return client.post(f"/api/v1/{address}", body, content_type="application/json", headers=head)


def test_a_crew_is_lent_for_the_day(made: nights.Night, up_river: tuple[Area, User]) -> None:
    area, theirs = up_river
    home, crew = made.cast.area, made.empty
    day, at = crew.service_day, crew.starts_at
    with time_machine.travel(at, tick=False):
        asked = {"area": "up-river", "of_area_code": home.code, "day": day.isoformat(), "why": "two floods"}
        help_id = _write(theirs, "help", **asked).json()["help_id"]
        for user, said in ((theirs, "other_area"), (made.dispatcher, None)):
            key = str(uuid4())
            answer = _write(user, f"help/{help_id}/give", key, crew_id=crew.pk)
            assert answer.json().get("code") == said
        assert _write(made.dispatcher, f"help/{help_id}/give", key, crew_id=crew.pk).json() == answer.json()
        assert _write(made.dispatcher, f"help/{help_id}/decline", reason="no").json()["code"] == "help_over"
        assert [row.pk for row in crews_of_day(area_id=area.pk, day=day)] == [crew.pk]
        assert crew.pk not in {row.pk for row in crews_of_day(area_id=home.pk, day=day)}
        assert crew.lead.user is None or area.pk in helped(crew.lead.user)
        (line,) = helping.help_list(theirs, since=day)
        assert (line.state, line.ours, line.crew) == ("given", True, Crew.objects.get(pk=crew.pk).name)
    assert JournalEntry.objects.filter(area=area, kind="help_given").count() == 1


def test_what_cannot_be_asked_given_or_taken_back(made: nights.Night, up_river: tuple[Area, User]) -> None:
    _, theirs = up_river
    home, crew = made.cast.area, made.empty
    day = crew.service_day
    with time_machine.travel(crew.starts_at, tick=False):
        good = {"area": "up-river", "of_area_code": home.code, "day": day.isoformat(), "why": "two floods"}
        for wrong, code in (
            ({"of_area_code": "up-river"}, "unusable_value"),
            ({"of_area_code": "moon"}, "not_found"),
            ({"day": (day - timedelta(days=3)).isoformat()}, "unusable_value"),
            ({"area": home.code, "of_area_code": "up-river"}, "other_area"),
        ):
            assert _write(theirs, "help", **{**good, **wrong}).json()["code"] == code, wrong
        help_id = _write(theirs, "help", **good).json()["help_id"]
        assert _write(made.dispatcher, f"help/{help_id}/take-back").json()["code"] == "other_area"
        assert _write(made.dispatcher, f"help/{help_id}/give", crew_id=10**6).json()["code"] == "not_found"
        client = Client()
        client.force_login(made.dispatcher)
        assert "two floods" in client.get("/desk/help").text
        sent = {"key": str(uuid4()), "do": "decline", "help": help_id, "reason": "all crews are out"}
        assert client.post("/desk/help", sent).status_code == 200
        assert HelpRequest.objects.get().state == "declined"
        assert client.post("/desk/help", {**sent, "key": str(uuid4())}).status_code == 409
        again = _write(theirs, "help", **good).json()["help_id"]
        assert _write(theirs, f"help/{again}/take-back").json()["state"] == "taken_back"
