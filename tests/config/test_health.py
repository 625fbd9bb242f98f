"""The health address says what is not working."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.db import DatabaseError
from django.test import Client

from config import health
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

    answer = client.get("/health")

    assert (answer.status_code, answer.json()["status"]) == (200, "ok")


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
    assert answer.json() == {"status": "failing", "database": "does not answer"}
