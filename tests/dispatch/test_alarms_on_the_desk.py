"""What equipment raises an alarm for stands on the desk until somebody says what was done."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.test import Client
from django.utils import timezone

from equipment import alarms, audit
from equipment.models import Alarm, Pool
from tests.equipment import cast as casting
from tests.equipment.cast import Cast


@pytest.fixture
def cast(db: None) -> Cast:
    return casting.make()


def desk(cast: Cast, client: Client) -> str:
    client.force_login(cast.dispatcher)
    return client.get("/desk").content.decode()


def test_a_load_from_category_3_sent_late_is_kept_and_stands_on_the_desk(cast: Cast, client: Client) -> None:
    cast.units("0001", condition="held_back", water_category=3)
    client.force_login(cast.keeper)
    done_at = timezone.now() - timedelta(hours=2)
    sent = {
        "numbers": ["0001"],
        "vehicle_id": cast.van.pk,
        "happened_at": done_at.isoformat(),
        "already_happened": True,
    }
    early = {**sent, "already_happened": False}
    address, key = "/api/v1/moves/scan-out", {"Idempotency-Key": str(uuid4())}
    assert client.post(address, early, content_type="application/json", headers=key).status_code == 409
    answer = client.post(
        "/api/v1/moves/scan-out", sent, content_type="application/json", headers={"Idempotency-Key": str(uuid4())}
    )

    assert answer.status_code < 300, answer.content
    assert str(cast.now("0001").holder) == "Van 1"
    alarm = Alarm.objects.get(kind="not_decontaminated")
    assert alarm.text in desk(cast, client)

    alarms.settle_alarm(**cast.by(cast.dispatcher), alarm_id=alarm.pk, what_was_done="called the crew")
    assert alarm.text not in desk(cast, client)


def test_what_the_nightly_audit_finds_stands_on_the_desk(cast: Cast, client: Client) -> None:
    cast.units("0001", "0002")
    now = timezone.now()
    audit.nightly(now=now, work_id=0)
    assert not Alarm.objects.filter(kind="audit").exists()

    Pool.objects.filter(stock=2).update(stock=3)
    audit.nightly(now=now, work_id=0)
    alarm = Alarm.objects.get(kind="audit")
    assert "audit_ledgers" in alarm.text
    assert alarm.text.split(".")[0] in desk(cast, client)
