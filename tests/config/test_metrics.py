"""Who may read the figures, and that they are those of the tables."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client

from equipment.audit import NIGHTLY
from jobs.models import DueWork

NOW = datetime(2026, 1, 16, 6, 47, tzinfo=UTC)


def _figures(text: str) -> dict[str, float]:
    rows = [line.rsplit(" ", 1) for line in text.splitlines() if not line.startswith("#")]
    return {name: float(value) for name, value in rows}


@pytest.mark.django_db
def test_figures_of_requests_work_and_audit(client: Client) -> None:
    with time_machine.travel(NOW, tick=False):
        DueWork.objects.create(kind="nothing", due_at=NOW - timedelta(seconds=90), made_at=NOW)
        DueWork.objects.create(
            kind=NIGHTLY,
            due_at=NOW,
            made_at=NOW,
            state="done",
            finished_at=NOW - timedelta(hours=3),
            result=0,
        )
        before = _figures(client.get("/metrics").text)
        client.get("/sign-in")
        after = _figures(client.get("/metrics").text)

    name = 'ebbline_requests_total{method="GET",status="200",view="sign_in"}'
    assert after[name] == before.get(name, 0) + 1
    assert after["ebbline_due_work_oldest_seconds"] == 90
    assert after['ebbline_due_work_rows{state="pending"}'] == 1
    assert after["ebbline_audit_age_seconds"] == 3 * 3600
    assert after["ebbline_audit_differences"] == 0
    assert after['ebbline_outbox_messages{state="waiting"}'] == 0


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("head", "remote", "status"),
    [
        ({}, "127.0.0.1", 200),
        ({}, "203.0.113.9", 404),
        ({"X-Forwarded-For": "127.0.0.1"}, "127.0.0.1", 404),
        ({"Authorization": "Bearer tide-table"}, "203.0.113.9", 200),
        ({"Authorization": "Bearer tide-tabl"}, "203.0.113.9", 404),
        ({"Authorization": "Bearer wrong"}, "127.0.0.1", 404),
    ],
)
def test_who_may_read_them(client: Client, settings: Any, head: dict[str, str], remote: str, status: int) -> None:
    settings.METRICS_TOKEN = "tide-table"

    assert client.get("/metrics", headers=head, REMOTE_ADDR=remote).status_code == status
