"""Messages leave by the way chosen for whoever gets them; what cannot be delivered is told and moves the ladder on."""

from collections.abc import Iterator
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.core import mail

from config import env
from dispatch import notify
from dispatch.emergencies import Sent, send
from dispatch.models import CallOut, Notice
from equipment.models import Alarm
from jobs import due_work
from jobs.models import Contact, DueWork
from tests.dispatch import gateway as stub
from tests.dispatch.gateway import DROP, Gateway
from tests.dispatch.night import NIGHT, Night

SECOND = timedelta(seconds=1)


@pytest.fixture
def gateway(settings: Any) -> Iterator[Gateway]:
    with stub.gateway() as state:
        settings.NOTICE_WAY = "sms"
        settings.SMS_GATEWAY = {
            "address": state.address,
            "scheme": "Bearer",
            "secret": "a secret of the gateway",
            "from": "+13605550100",
            "format": "json",
            "fields": {"to": "{to}", "text": "{text}", "sender": "{from}"},
            "timeout_s": 1,
        }
        yield state


def told(night: Night, **facts: Any) -> Notice:
    values = {"key": uuid4(), "area_id": night.cast.area.pk, "person": night.ready.lead, "text": "Come in at six."}
    return notify.write(**{**values, "now": NIGHT, **facts})


def run_until(seconds: int, *, step_s: int = 5) -> None:
    for second in range(0, seconds + 1, step_s):
        due_work.run_due(clock=lambda: NIGHT + second * SECOND)  # noqa: B023 (called before the next round)


def asked() -> list[tuple[str, str]]:
    return [(step.person.name, step.answer) for step in CallOut.objects.get().steps.all()]


@pytest.fixture
def sent(night: Night) -> Sent:
    return send(**night.by(night.dispatcher), call_id=night.call(), crew_id=night.ready.pk)


def test_each_gets_it_by_the_way_chosen_for_them(night: Night, gateway: Gateway) -> None:
    by_text, by_mail = night.ready.lead, night.empty.lead
    by_mail.reach_by, by_mail.user.email = "email", "ben@example.com"
    by_mail.save()
    by_mail.user.save()
    job = night.cast.job()
    owner = Contact.objects.create(job=job, role="owner", email="owner@example.com", reach_by="email")
    first = told(night, person=by_text)
    told(night, person=by_mail)
    told(night, person=None, contact=owner)
    assert gateway.asked == [], "nothing is sent before the transaction that writes it has ended"

    run_until(0)

    assert [row.way for row in Notice.objects.order_by("pk")] == ["sms", "email", "email"]
    assert set(Notice.objects.values_list("state", flat=True)) == {"sent"}
    assert [message.to for message in mail.outbox] == [["ben@example.com"], ["owner@example.com"]]
    (request,) = gateway.asked
    assert request["authorization"] == "Bearer a secret of the gateway"
    assert request["idempotency-key"] == str(first.key)
    assert '"sender": "+13605550100"' in request["body"]


def test_a_gateway_that_is_down_is_asked_again_with_growing_pauses_under_the_same_key(
    night: Night, gateway: Gateway
) -> None:
    gateway.answers = [503, 429, DROP]
    notice = told(night)
    pauses, at = [], NIGHT
    while (work := DueWork.objects.filter(state="pending").first()) is not None:
        pauses.append((work.due_at - at).total_seconds())
        at = work.due_at
        due_work.run_one(work.pk, now=at)
    notice.refresh_from_db()
    assert (notice.state, notice.tries, notice.failed_for_good) == ("sent", 4, False)
    assert pauses == [0, 5, 10, 20]
    assert {request["idempotency-key"] for request in gateway.asked} == {str(notice.key)}
    assert len(gateway.sent) == 1


def test_a_gateway_that_never_answers_ends_as_failed_and_the_desk_sees_it(night: Night, gateway: Gateway) -> None:
    gateway.always = 500
    notice = told(night)
    run_until(400)
    notice.refresh_from_db()
    assert (notice.state, notice.tries, notice.failed_for_good) == ("failed", 6, False)
    assert len(gateway.asked) == 6
    assert Alarm.objects.get().text.startswith("Ada could not be told: The gateway answered 500.")


def test_a_number_that_is_refused_moves_the_ladder_on_at_once(night: Night, sent: Sent, gateway: Gateway) -> None:
    gateway.answers = [404]
    for _ in ("the page", "the next step", "its page"):
        run_until(0)
    assert asked() == [("Ada", "unreached"), ("Ben", "")]
    assert Notice.objects.get(failed_for_good=True).tries == 1
    assert "Ada" in Alarm.objects.get(kind="not_told").text
    (text,) = stub.texts(gateway)
    assert "J-1001" in text
    assert "/go/" in text


def test_a_gateway_that_is_down_delays_no_step_and_pages_nobody_late(
    night: Night, sent: Sent, gateway: Gateway
) -> None:
    gateway.always = 503
    run_until(180)
    assert asked()[0] == ("Ada", "unreached"), "after the last try the next is asked without waiting for the answer"
    gateway.always = 202
    run_until(600)
    # Ada's second try was written before her step ended; it is not sent any more.
    keys = [row.step.person.name for row in Notice.objects.filter(state="sent", step__isnull=False)]
    assert "Ada" not in keys
    assert keys[:1] == ["Ben"]
    waiting = Notice.objects.filter(state="waiting")
    assert not waiting, [str(row) for row in waiting]


def test_without_a_number_or_a_gateway_it_fails_for_good_and_says_why(night: Night, settings: Any) -> None:
    settings.NOTICE_WAY = "sms"
    settings.SMS_GATEWAY = {**settings.SMS_GATEWAY, "address": ""}
    nowhere, nobody = told(night), told(night, person=None, contact=None)
    run_until(0)
    nowhere.refresh_from_db()
    nobody.refresh_from_db()
    assert (nowhere.failure, nowhere.failed_for_good) == (
        "No text message gateway is set up (EBBLINE_SMS_ADDRESS).",
        True,
    )
    assert (nobody.state, nobody.failed_for_good) == ("failed", True)


def test_fields_of_the_gateway_are_checked_when_the_program_starts(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FIELDS", "Body={text}, To={to}")
    assert env.fields("FIELDS", "", {"to", "text"}) == {"Body": "{text}", "To": "{to}"}
    for wrong in ("Body={message}", "Body", "{text}=", "Body={text"):
        monkeypatch.setenv("FIELDS", wrong)
        with pytest.raises(env.ImproperlyConfigured, match="FIELDS"):
            env.fields("FIELDS", "", {"to", "text"})
