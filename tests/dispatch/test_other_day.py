"""Another day agreed for a visit takes its stop off the old route; the API records and lists promises."""

from datetime import timedelta
from typing import Any
from uuid import uuid4

import time_machine
from django.test import Client

from dispatch import emergencies
from dispatch.models import CallOut, Stop
from jobs.models import JournalEntry, Promise, Visit
from tests.dispatch.night import NIGHT, Night


def post(client: Client, path: str, **body: Any) -> Any:
    return client.post(
        f"/api/v1/{path}", body, content_type="application/json", headers={"Idempotency-Key": str(uuid4())}
    )


def test_a_visit_agreed_for_another_day_leaves_its_route_and_is_due_again(night: Night, client: Client) -> None:
    sent = emergencies.send(**night.by(night.dispatcher), call_id=night.call(), crew_id=night.ready.pk)
    other = emergencies.send(**night.by(night.dispatcher), call_id=night.call(), crew_id=night.ready.pk)
    client.force_login(night.dispatcher)
    with time_machine.travel(NIGHT, tick=False):
        soon = Promise.objects.get(visit_id=sent.visit_id, kind="arrival")
        still_tonight = post(
            client, f"promises/{soon.pk}/agree", new_due_at=(NIGHT + timedelta(hours=6)).isoformat(), with_whom="owner"
        )
        assert still_tonight.status_code == 200, still_tonight.content
        assert Stop.objects.filter(visit_id=sent.visit_id).exists()
        day = (NIGHT + timedelta(days=2)).isoformat()
        assert (
            post(client, f"promises/{still_tonight.json()['next_id']}/agree", new_due_at=day, with_whom="").status_code
            == 422
        )
        agreed = post(client, f"promises/{still_tonight.json()['next_id']}/agree", new_due_at=day, with_whom="owner")
    assert agreed.json()["end"] == "agreed_later"
    assert list(Stop.objects.values_list("visit_id", flat=True)) == [other.visit_id]
    visit = Visit.objects.get(pk=sent.visit_id)
    assert (visit.state, visit.promised_start, visit.due_at) == ("due", None, NIGHT + timedelta(days=2))
    assert CallOut.objects.get(visit=visit).state == CallOut.State.CANCELED
    assert JournalEntry.objects.filter(kind="visit_left_route", job_id=sent.job_id).exists()
    past = client.get(f"/api/v1/jobs/{sent.job_id}/promises").json()
    assert [row["end"] for row in past if row["kind"] == "arrive"] == ["agreed later", "agreed later"]
    page = client.get(f"/desk/jobs/{sent.job_number}").content.decode()
    assert page.count("agreed later") == 2
    assert "with owner" in page


def test_callers_of_one_loss_and_their_clocks_over_http(night: Night, client: Client) -> None:
    sent = emergencies.send(**night.by(night.dispatcher), call_id=night.call(), crew_id=night.ready.pk)
    neighbor = night.call(street="5232 Teasel Field Court")
    client.force_login(night.cast.manager)
    with time_machine.travel(NIGHT, tick=False):
        running = client.get(f"/api/v1/areas/{night.cast.area.code}/promises").json()["lines"]
        clock = next(line for line in running if line["call_id"] == neighbor)
        met = post(client, f"promises/{clock['promise_id']}/meet")
        assert (met.status_code, met.json()["end"]) == (200, "kept")
        urgent = post(client, f"calls/{neighbor}/urgency", level="Go now", reason="newborn")
        assert urgent.json()["level"] == "Go now"
        assert post(client, f"calls/{neighbor}/join", job_id=sent.job_id).json()["job_number"] == sent.job_number
        assert post(client, f"calls/{neighbor}/split").status_code == 200
        assert post(client, f"calls/{neighbor}/split").json()["code"] == "not_joined"
