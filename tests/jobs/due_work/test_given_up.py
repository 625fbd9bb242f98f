"""Work whose runner dies is taken over, and is given up where somebody is told."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from jobs import due_work
from jobs.due_work import queue, registry, tasks
from jobs.models import DueWork

NOW = datetime(2026, 1, 16, 6, 47, tzinfo=UTC)
MINUTE = timedelta(minutes=1)
pytestmark = pytest.mark.django_db


@pytest.fixture
def told() -> Iterator[list[Any]]:
    """What whoever waits for work of kind "solve" was told."""
    heard: list[Any] = []

    def solve(*, now: datetime, work_id: int, fails: bool) -> None:
        if fails:
            raise ZeroDivisionError

    def give_up(*, now: datetime, work_id: int, fails: bool) -> None:
        heard.append((work_id, now))

    due_work.register("solve", solve, lease=MINUTE, tries=2, given_up=give_up)
    yield heard
    registry._handlers.pop("solve")


def _asked(*, fails: bool = False) -> int:
    return due_work.enqueue(kind="solve", arguments={"fails": fails}, due_at=NOW, now=NOW)


def _died(pk: int, attempts: int) -> None:
    DueWork.objects.filter(pk=pk).update(state="running", attempts=attempts, lease_until=NOW + MINUTE)


def test_the_last_failure_is_told_once(told: list[Any]) -> None:
    pk = _asked(fails=True)
    later = NOW + 20 * MINUTE
    assert due_work.run_one(pk, now=NOW)
    assert told == []
    assert due_work.run_one(pk, now=later)
    assert not due_work.run_one(pk, now=later + MINUTE)
    assert told == [(pk, later)]
    assert DueWork.objects.get(pk=pk).state == "failed"


def test_a_runner_that_died_at_every_try_is_no_reason_to_kill_another(told: list[Any]) -> None:
    once, twice = _asked(), _asked()
    _died(once, 1)
    _died(twice, 2)
    for pk in (once, twice):
        assert not due_work.run_one(pk, now=NOW + MINUTE), "its lease has not run out"
        assert due_work.run_one(pk, now=NOW + MINUTE + timedelta(seconds=1))
    assert (DueWork.objects.get(pk=once).state, DueWork.objects.get(pk=once).attempts) == ("done", 2)
    given_up = DueWork.objects.get(pk=twice)
    assert (given_up.state, given_up.attempts) == ("failed", 2)
    assert "ended without a word" in given_up.error
    assert [pk for pk, _ in told] == [twice]


def test_a_lease_is_renewed_only_while_somebody_works(told: list[Any]) -> None:
    pk = _asked()
    assert not due_work.renew(pk, now=NOW)
    _died(pk, 1)
    assert due_work.renew(pk, now=NOW + 5 * MINUTE)
    assert not due_work.run_one(pk, now=NOW + 6 * MINUTE)
    assert due_work.run_one(pk, now=NOW + 6 * MINUTE + timedelta(seconds=1))
    assert not due_work.renew(pk, now=NOW + 7 * MINUTE)


def test_what_nobody_does_is_counted_by_kind(told: list[Any]) -> None:
    assert due_work.late_work(now=NOW) is None
    _asked()
    _asked()
    DueWork.objects.create(kind="other", due_at=NOW - MINUTE, made_at=NOW, state="done")
    assert due_work.late_work(now=NOW + timedelta(seconds=30)) is None
    late = due_work.late_work(now=NOW + MINUTE)
    assert late == due_work.Late(NOW, {"solve": 2})


def test_a_broker_that_is_away_keeps_one_request_waiting_and_not_each(
    told: list[Any], settings: Any, monkeypatch: pytest.MonkeyPatch, django_capture_on_commit_callbacks: Any
) -> None:
    tried = []

    def away(*_: Any, **__: Any) -> None:
        tried.append(1)
        raise OSError("refused")

    settings.REDIS_URL = "redis://127.0.0.1:1/0"
    monkeypatch.setattr(tasks.run_row, "apply_async", away)
    monkeypatch.setattr(queue._unheard, "until", 0.0)
    for _ in range(3):
        with django_capture_on_commit_callbacks(execute=True):
            _asked()
    assert len(tried) == 1
    monkeypatch.setattr(queue._unheard, "until", 0.0)
    with django_capture_on_commit_callbacks(execute=True):
        _asked()
    assert len(tried) == 2
    assert DueWork.objects.filter(state="pending").count() == 4
