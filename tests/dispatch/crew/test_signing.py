"""Signing at the stop: who may is the state's rule, a refusal says who may instead, and what was signed stays."""

from collections.abc import Iterator
from datetime import date, timedelta
from io import BytesIO
from typing import Any
from uuid import uuid4

import pytest
import time_machine
from django.db import DatabaseError, transaction
from django.test import Client
from pypdf import PdfReader

from dispatch.emergencies import Sent, send
from jobs.models import Job, Signature, StateRule, UseCaseCall
from tests.dispatch.crew.test_crew_room import client, post
from tests.dispatch.night import NIGHT, Night

HAND = "M10 100" + "".join(f"L{x} {90 + x % 40}" for x in range(20, 200, 10))


@pytest.fixture(autouse=True)
def at_night() -> Iterator[None]:
    with time_machine.travel(NIGHT, tick=False):
        yield


def rule(topic: str, value: str, since: date = date(2025, 1, 1), state: str = "WA", **more: Any) -> None:
    facts = {"source": "common practice, no source", "confidence": "practice", **more}
    StateRule.objects.create(state=state, topic=topic, value=value, valid_from=since, **facts)


@pytest.fixture
def sent(night: Night) -> Sent:
    rule("who_signs_emergency_mitigation", "owner tenant manager agent")
    rule("who_signs_removal", "owner", date(2025, 1, 1), valid_until=date(2026, 1, 1))
    rule("who_signs_removal", "owner manager", date(2026, 1, 1))
    rule("who_signs_key_box", "owner tenant", state="US")
    rule("form_emergency_mitigation", "demo-wa-1", edition="winter")
    rule("form_emergency_mitigation", "demo-wa-2", date(2026, 2, 1), edition="spring")
    return send(**night.by(night.dispatcher), call_id=night.call(), crew_id=night.empty.pk)


@pytest.fixture
def ben(night: Night) -> Client:
    return client(night.empty.lead.user)


def test_who_may_sign_is_the_rule_of_the_state_and_day(ben: Client, sent: Sent) -> None:
    post(ben, sent, "arrive")
    typed = {"sign_role": "tenant", "sign_name": "Tess Tenant", "drawing": HAND, "sign_limits": "not upstairs"}
    page = post(ben, sent, "sign", sign_what="removal", **typed)
    text = page.content.decode()
    assert page.status_code == 422
    # The rule of this year, not that of the last; what was drawn and typed stays on the page.
    assert "In WA the tenant does not sign for removing building material. Ask the owner or property manager" in text
    assert "common practice, no source" in text
    assert HAND in text
    assert 'value="Tess Tenant"' in text
    assert not Signature.objects.exists()

    # The phone kept it for an hour without a network.
    earlier = NIGHT - timedelta(hours=1)
    key = str(uuid4())
    for _ in range(2):
        done = post(
            ben, sent, "sign", sign_what="emergency_mitigation", **typed, happened_at=earlier.isoformat(), key=key
        )
        assert done.status_code == 302
    row = Signature.objects.get()
    assert (row.form, row.form_edition, row.state, row.how) == ("demo-wa-1", "winter", "WA", "drawn")
    assert (row.signed_at, row.recorded_at) == (earlier, NIGHT)
    job = Job.objects.get(pk=sent.job_id)
    assert (job.authorized_at, job.authorized_limits) == (earlier, "not upstairs")
    # No name and no drawing stands where it could not be erased.
    call = UseCaseCall.objects.get(key=key)
    assert "Tess" not in str(call.arguments)
    assert call.private_arguments is not None
    assert HAND in ben.get(f"/crew/stops/{sent.visit_id}").content.decode()
    with pytest.raises(DatabaseError), transaction.atomic():
        Signature.objects.update(role="owner")


def test_the_desk_and_the_record_show_it(ben: Client, sent: Sent, night: Night) -> None:
    desk = client(night.dispatcher)
    stop = f"/api/v1/stops/{sent.visit_id}"
    rules = {rule["what"]: rule for rule in ben.get(f"{stop}/signing").json()}
    assert rules["removal"]["roles"] == ["owner", "manager"]
    assert rules["key_box"]["roles"] == ["owner", "tenant"]
    body = {"what": "contents_disposal", "role": "owner", "name": "Olga Owner"}
    unruled = send_json(ben, f"{stop}/signatures", body)
    assert "No rule of WA is on file" in unruled.json()["caution"]
    refused = send_json(ben, f"{stop}/signatures", {**body, "what": "removal", "role": "agent"})
    assert (refused.status_code, refused.json()["code"]) == (422, "may_not_sign")
    assert send_json(ben, f"{stop}/signatures", {**body, "name": " "}).json()["code"] == "not_signed"
    assert send_json(ben, f"{stop}/signatures", {**body, "drawing": "M1 1"}).json()["code"] == "not_signed"
    assert send_json(ben, f"/api/v1/jobs/{sent.job_id}/signatures", body).status_code == 403
    assert send_json(desk, f"/api/v1/jobs/{sent.job_id}/signatures", {**body, "drawing": HAND}).status_code == 201
    listed = desk.get(f"/api/v1/jobs/{sent.job_id}/signatures").json()
    assert [(line["name"], bool(line["drawing"])) for line in listed] == [("Olga Owner", False), ("Olga Owner", True)]
    assert "Olga Owner (owner) for throwing away contents" in desk.get(f"/desk/jobs/{sent.job_number}").content.decode()
    record = desk.get(f"/api/v1/jobs/{sent.job_id}/drying-record").json()
    assert [line["what"] for line in record["signatures"]] == ["contents_disposal"] * 2
    pdf = PdfReader(BytesIO(desk.get(f"/desk/jobs/{sent.job_number}/drying-record.pdf").content))
    assert "Olga Owner (owner) for throwing away contents" in " ".join(page.extract_text() for page in pdf.pages)


def send_json(who: Client, address: str, body: dict[str, Any]) -> Any:
    return who.post(address, body, "application/json", headers={"Idempotency-Key": str(uuid4())})
