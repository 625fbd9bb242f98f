"""The health address says what is not working."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.db import DatabaseError
from django.test import Client

from config import health
from equipment.audit import NIGHTLY
from jobs.models import DueWork

NOW = datetime(2026, 1, 16, 6, 47, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _stopped_clock() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield


def _due(at: datetime) -> None:
    DueWork.objects.create(kind="nothing", due_at=at, made_at=at)


@pytest.mark.django_db
def test_well(client: Client) -> None:
    _due(NOW - health.OVERDUE)

    answer = client.get("/healthz")

    assert (answer.status_code, answer.json()["status"]) == (200, "ok")
    assert answer.json()["oldest_unhandled_s"] == health.OVERDUE.total_seconds()
    assert client.get("/livez").json() == {"status": "ok", "database": "ok"}


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("ago", "differences", "said"),
    [(timedelta(hours=30), 0, "ok"), (timedelta(hours=34), 0, "overdue"), (timedelta(hours=1), 2, "2 differences")],
)
def test_the_last_audit(client: Client, ago: timedelta, differences: int, said: str) -> None:
    DueWork.objects.create(
        kind=NIGHTLY, due_at=NOW, made_at=NOW, state="done", finished_at=NOW - ago, result=differences
    )

    answer = client.get("/healthz")

    assert answer.json()["audit"].startswith(said)
    assert answer.json().get("failing", []) == ([] if said == "ok" else ["audit"])
    assert answer.json()["last_audit_at"] == (NOW - ago).isoformat()


@pytest.mark.django_db
def test_a_broker_that_does_not_answer(client: Client, settings: Any) -> None:
    settings.REDIS_URL = "redis://:tide@127.0.0.1:1/0"

    answer = client.get("/healthz")

    assert (answer.status_code, answer.json()["failing"]) == (503, ["broker"])
    assert "tide" not in answer.text


@pytest.mark.django_db
def test_work_that_nobody_does(client: Client) -> None:
    _due(NOW - health.OVERDUE - timedelta(seconds=1))

    answer = client.get("/health")

    assert answer.status_code == 503
    assert answer.json()["due_work"].startswith("1 overdue")


@pytest.mark.django_db
def test_tables_that_are_not_current(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(health, "_steps_not_applied", lambda: 2)

    assert client.get("/health").json()["migrations"].startswith("2 not applied")


def test_database_that_does_not_answer(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse() -> int:
        raise DatabaseError("connection refused")

    monkeypatch.setattr(health, "_steps_not_applied", refuse)

    answer = client.get("/health")

    assert answer.status_code == 503
    assert answer.json() == {"status": "failing", "database": "does not answer", "failing": ["database"]}
