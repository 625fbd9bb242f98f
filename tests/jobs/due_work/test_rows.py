"""Work as rows: claimed once, tried again, fenced when the lease was lost, coalesced by key, taken back."""

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.db import connection, transaction

from jobs.due_work import queue, registry, run
from jobs.models import DueWork

NOW = datetime(2026, 1, 16, 6, 47, tzinfo=UTC)
MINUTE = timedelta(minutes=1)
State = DueWork.State

pytestmark = pytest.mark.django_db


@pytest.fixture
def kind(monkeypatch: pytest.MonkeyPatch) -> Callable[..., list[dict[str, Any]]]:
    """Register work of kind "tried" and return the list of its calls; `does` runs inside each."""
    monkeypatch.setattr(registry, "_handlers", {})

    def make(does: Callable[[], Any] = lambda: None, **options: Any) -> list[dict[str, Any]]:
        calls: list[dict[str, Any]] = []

        def handler(*, now: datetime, work_id: int, **arguments: Any) -> Any:
            calls.append({"now": now, "work_id": work_id, **arguments})
            return does()

        registry.register("tried", handler, **options)
        return calls

    return make


def _enqueue(due_at: datetime = NOW, coalesce: str | None = None, **arguments: Any) -> int:
    return queue.enqueue(kind="tried", arguments=arguments, due_at=due_at, now=NOW, coalesce=coalesce)


def test_work_is_done_once_and_keeps_its_result(kind: Any) -> None:
    calls = kind(lambda: {"sent": 3})
    pk = _enqueue(job=7)

    assert run.run_one(pk, now=NOW)
    assert not run.run_one(pk, now=NOW + MINUTE)

    assert calls == [{"now": NOW, "work_id": pk, "job": 7}]
    row = DueWork.objects.get(pk=pk)
    assert (row.state, row.result, row.finished_at, row.lease_until) == (State.DONE, {"sent": 3}, NOW, None)


def test_work_is_not_done_before_it_is_due(kind: Any) -> None:
    calls = kind()
    pk = _enqueue(due_at=NOW + timedelta(microseconds=1))

    assert not run.run_one(pk, now=NOW)
    assert run.run_due(clock=lambda: NOW) == 0
    assert calls == []


def test_due_work_is_done_oldest_first(kind: Any) -> None:
    calls = kind()
    late, early = _enqueue(due_at=NOW - MINUTE), _enqueue(due_at=NOW - 2 * MINUTE)

    assert run.run_due(clock=lambda: NOW) == 2

    assert [call["work_id"] for call in calls] == [early, late]


def test_failure_is_kept_and_tried_again_with_growing_pauses(kind: Any) -> None:
    def fail() -> None:
        raise ValueError("the pump is off")

    kind(fail, tries=3)
    pk = _enqueue()
    pauses = []
    at = NOW
    for _ in range(3):
        assert run.run_one(pk, now=at)
        row = DueWork.objects.get(pk=pk)
        pauses.append((row.due_at - at).total_seconds())
        at = row.due_at

    assert pauses[:2] == [5, 10]
    assert (row.state, row.attempts, row.error) == (State.FAILED, 3, "ValueError: the pump is off")
    assert not run.run_one(pk, now=NOW + timedelta(days=1))


def test_failed_write_of_a_handler_is_not_half_kept(kind: Any) -> None:
    def write_and_fail() -> None:
        with transaction.atomic():
            DueWork.objects.create(kind="tried", due_at=NOW + timedelta(days=1), made_at=NOW)
            raise ValueError

    kind(write_and_fail)

    run.run_one(_enqueue(), now=NOW)

    assert DueWork.objects.count() == 1


def test_work_of_a_worker_that_died_is_taken_over_when_its_lease_ran_out(kind: Any) -> None:
    calls = kind(lease=2 * MINUTE)
    pk = _enqueue()
    DueWork.objects.filter(pk=pk).update(state=State.RUNNING, attempts=1, lease_until=NOW + 2 * MINUTE)

    assert not run.run_one(pk, now=NOW + 2 * MINUTE)
    assert run.run_one(pk, now=NOW + 2 * MINUTE + timedelta(seconds=1))

    assert len(calls) == 1
    assert DueWork.objects.get(pk=pk).attempts == 2


@pytest.mark.django_db(transaction=True)
def test_many_workers_at_one_row_do_it_once(kind: Any) -> None:
    calls = kind()
    rows = [_enqueue() for _ in range(10)]
    together = threading.Barrier(4)

    def work(_: int) -> int:
        try:
            together.wait()
            return sum(run.run_one(pk, now=NOW) for pk in rows)
        finally:
            connection.close()

    with ThreadPoolExecutor(4) as workers:
        done = sum(workers.map(work, range(4)))

    assert done == len(rows)
    assert sorted(call["work_id"] for call in calls) == rows


def test_worker_that_lost_its_lease_does_not_overwrite_the_answer(kind: Any) -> None:
    def be_overtaken() -> str:
        DueWork.objects.filter(pk=pk).update(state=State.DONE, attempts=2, result="theirs", lease_until=None)
        return "mine"

    kind(be_overtaken)
    pk = _enqueue()

    run.run_one(pk, now=NOW)

    assert DueWork.objects.get(pk=pk).result == "theirs"


def test_pending_work_of_one_key_is_one_row_with_the_earlier_time(kind: Any) -> None:
    kind()

    first = _enqueue(due_at=NOW + MINUTE, coalesce="plan 4", day=1)
    second = _enqueue(due_at=NOW + 5 * MINUTE, coalesce="plan 4", day=2)
    other = _enqueue(coalesce="plan 5")

    assert first == second != other
    row = DueWork.objects.get(pk=first)
    assert (row.due_at, row.arguments) == (NOW + MINUTE, {"day": 2})


def test_work_asked_for_while_it_runs_is_done_again(kind: Any) -> None:
    asked: list[int] = []

    def ask_again() -> None:
        if not asked:
            asked.append(_enqueue(coalesce="plan 4"))

    calls = kind(ask_again)
    first = _enqueue(coalesce="plan 4")

    run.run_one(first, now=NOW)
    run.run_due(clock=lambda: NOW)

    assert [call["work_id"] for call in calls] == [first, asked[0]]


def test_canceled_work_is_not_done(kind: Any) -> None:
    calls = kind()
    pk = _enqueue(coalesce="call-out 9")

    assert queue.cancel(coalesce="call-out 9", now=NOW) == 1
    assert queue.cancel(coalesce="call-out 9", now=NOW) == 0

    assert not run.run_one(pk, now=NOW)
    assert calls == []


def test_unknown_kind_is_refused_before_a_row_is_written(kind: Any) -> None:
    kind()

    with pytest.raises(LookupError, match="no handler is registered for work of kind 'typo'"):
        queue.enqueue(kind="typo", arguments={}, due_at=NOW, now=NOW)

    assert not DueWork.objects.exists()


def test_two_functions_cannot_have_one_kind(kind: Any) -> None:
    kind()

    with pytest.raises(ValueError, match="tried is already done by"):
        registry.register("tried", lambda **_: None)
