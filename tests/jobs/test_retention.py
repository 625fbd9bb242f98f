"""What is erased when: each kind by its own period, nothing before it, and the ledgers' seals hold."""

from collections.abc import Callable
from datetime import timedelta
from io import StringIO
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
import time_machine
from axes.models import AccessLog
from django.contrib.auth.models import User
from django.core.exceptions import ImproperlyConfigured
from django.core.management import call_command
from django.test import Client

from equipment.audit import audit
from jobs import access, intake, looks, retention
from jobs.models import Call, Contact, DueWork, Job, PrivateFacts, PrivateLook, UseCaseCall
from jobs.people import system_user
from tests.equipment import cast as casting
from tests.jobs.conftest import NIGHT

DAY = timedelta(days=1)


@pytest.fixture
def closed(db: None) -> tuple[casting.Cast, Job]:
    """A night's equipment work and a closed job with people; a call that led nowhere."""
    cast = casting.make()
    cast.units("0001")
    job = cast.job()
    Contact.objects.create(job=job, role="owner", name="Marisol Tarnwick", phone="5645550142")
    PrivateFacts.objects.create(job=job, access="key box 4417", care="oxygen")
    common: dict[str, Any] = {"actor": cast.dispatcher, "now": NIGHT}
    call_id = intake.take_call(**common, key=uuid4(), area_id=cast.area.pk, callback_number="564-555-0142").call_id
    intake.end_call(**common, key=uuid4(), call_id=call_id, ended_as="no_crew", reason="dry already")
    Job.objects.filter(pk=job.pk).update(closed_at=NIGHT, stage="closed")
    AccessLog.objects.create(username="dana", ip_address="203.0.113.9")
    AccessLog.objects.update(attempt_time=NIGHT)
    PrivateLook.objects.create(viewer=cast.dispatcher, job=job, what="desk", looked_at=NIGHT)
    return cast, job


def test_each_kind_goes_after_its_own_period_and_the_audit_stays_clean(closed: tuple[casting.Cast, Job]) -> None:
    def erased(days: int) -> dict[str, int]:
        now = NIGHT + days * DAY + timedelta(seconds=1)
        told = retention.would_erase(now=now).rows
        done = retention.erase_on_schedule(key=uuid4(), actor=system_user(), now=now).rows
        assert told == done
        return {kind: number for kind, number in done.items() if number}

    assert erased(0) == {"access": 1}
    assert erased(29) == {}
    assert erased(30) == {"callers": 1}
    assert erased(90) == {"requests": 2, "sign_ins": 1}
    assert erased(730) == {"looks": 1}
    assert erased(1094) == {}
    assert erased(1095) == {"customers": 1}
    text = str([list(model.objects.values()) for model in (Contact, PrivateFacts, Call, UseCaseCall)])
    assert [word for word in ("Tarnwick", "5550142", "555-0142", "4417", "oxygen") if word in text] == []
    assert audit() == ()


def test_the_command_says_what_it_would_do_and_the_night_does_it(closed: tuple[casting.Cast, Job]) -> None:
    out = StringIO()
    with time_machine.travel(NIGHT + 31 * DAY, tick=False):
        call_command("erase_on_schedule", "--dry-run", stdout=out)
    assert "callers: 1 would be erased" in out.getvalue()
    assert Call.objects.get().private_answers != {}

    retention.nightly(now=NIGHT + 31 * DAY, work_id=1)
    retention.nightly(now=NIGHT + 31 * DAY, work_id=2)
    assert Call.objects.get().private_answers == {}
    assert DueWork.objects.filter(kind=retention.WORK, state="pending").count() == 1


def test_periods_are_rule_data_with_a_source(tmp_path: Path) -> None:
    assert all(period.source and period.what for period in retention.periods().values())
    assert retention.periods().keys() == retention._erasers.keys()
    own = tmp_path / "own.toml"
    own.write_text('[looks]\ndays = 30\nsource = "company rule"\n')
    assert retention.periods(str(own))["looks"].days == 30
    for wrong in ("[looks]\ndays = -1\n", "[nothing]\ndays = 1\n", "[looks]\nweeks = 1\n", "nonsense"):
        own.write_text(wrong)
        retention.periods.cache_clear()
        with pytest.raises(ImproperlyConfigured, match="EBBLINE_RETENTION"):
            retention.periods(str(own))


def test_who_saw_and_changed_private_facts_is_told_to_the_manager_of_the_area(
    person: Callable[[str], User], client: Client
) -> None:
    desk, manager = person(access.DISPATCHER), person(access.MANAGER)
    area_id = desk.memberships.get().area_id  # type: ignore[attr-defined]
    with time_machine.travel(NIGHT, tick=False):
        call_id = intake.take_call(actor=desk, now=NIGHT, key=uuid4(), area_id=area_id).call_id
        intake.answer_call(actor=desk, now=NIGHT, key=uuid4(), call_id=call_id, field="access", value="4417", seen=0)
        intake.answer_call(actor=desk, now=NIGHT, key=uuid4(), call_id=call_id, field="power", value="on", seen=0)
        client.force_login(desk)
        for _ in range(2):
            assert client.get(f"/desk/calls/{call_id}").status_code == 200
        assert client.get(f"/api/v1/calls/{call_id}").status_code == 200
        rows = looks.trail(manager, since=NIGHT)
        assert sorted((row.did, row.what, row.call_id) for row in rows) == [
            ("changed", "access", call_id),
            ("saw", "api/v1/calls/<int:call_id>", call_id),
            ("saw", "desk/calls/<int:call_id>", call_id),
        ]
        assert client.get("/desk/office/looks").status_code == 403
        client.force_login(manager)
        page = client.get("/desk/office/looks", {"who": desk.username})
        assert page.status_code == 200
        assert page.text.count(desk.username) >= 3
        assert "4417" not in page.text
