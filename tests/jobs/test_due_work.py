"""Timed work as rows: one row for one coalescing key, one worker for one row, retries, and a fence for a lost lease."""

from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any

import pytest

from jobs import due_work
from jobs.due_work import registry
from jobs.models import DueWork
from tests.jobs.conftest import NIGHT, later

pytestmark = pytest.mark.django_db


@pytest.fixture
def done() -> Iterator[list[dict[str, Any]]]:
    """What the handler of kind `test` was asked to do."""
    asked: list[dict[str, Any]] = []

    def handle(**arguments: Any) -> str:
        asked.append(arguments)
        return "well"

    due_work.register("test", handle, lease=timedelta(minutes=2), tries=3)
    yield asked
    registry._handlers.pop("test", None)


@pytest.fixture
def failing(done: list[dict[str, Any]]) -> Callable[[Exception | None], None]:
    """Lets the handler fail from now on."""
    handler = registry._handlers.pop("test")
    trouble: list[Exception | None] = [None]

    def handle(**arguments: Any) -> Any:
        if trouble[0] is not None:
            raise trouble[0]
        return handler.function(**arguments)

    due_work.register("test", handle, lease=handler.lease, tries=handler.tries)
    return lambda error: trouble.__setitem__(0, error)


def _enqueue(minutes: float = 0, **more: Any) -> int:
    return due_work.enqueue(kind="test", arguments={"n": 1}, due_at=later(minutes), now=NIGHT, **more)


def test_work_waits_for_its_time_and_is_done_once(done: list[dict[str, Any]]) -> None:
    pk = _enqueue(5)

    assert not due_work.run_one(pk, now=later(4))
    assert due_work.run_one(pk, now=later(5))
    assert not due_work.run_one(pk, now=later(6))
    assert done == [{"now": later(5), "work_id": pk, "n": 1}]
    row = DueWork.objects.get(pk=pk)
    assert (row.state, row.result, row.finished_at) == ("done", "well", later(5))


def test_the_oldest_comes_first(done: list[dict[str, Any]]) -> None:
    ids = [_enqueue(minutes) for minutes in (3, 1, 2)]

    assert due_work.run_due(clock=lambda: later(10)) == 3
    assert [asked["work_id"] for asked in done] == [ids[1], ids[2], ids[0]]


def test_pending_work_of_one_key_is_one_row_at_the_earlier_time(done: list[dict[str, Any]]) -> None:
    first = _enqueue(5, coalesce="plan 1")
    again = due_work.enqueue(kind="test", arguments={"n": 2}, due_at=later(2), now=NIGHT, coalesce="plan 1")
    other = _enqueue(5, coalesce="plan 2")

    assert again == first != other
    row = DueWork.objects.get(pk=first)
    assert (row.arguments, row.due_at) == ({"n": 2}, later(2))


def test_work_that_was_asked_for_while_it_ran_is_done_again(done: list[dict[str, Any]]) -> None:
    first = _enqueue(coalesce="plan 1")
    assert due_work.run_one(first, now=later(1))

    second = _enqueue(2, coalesce="plan 1")
    assert second != first
    assert due_work.run_due(clock=lambda: later(3)) == 1


def test_canceled_work_is_not_done(done: list[dict[str, Any]]) -> None:
    _enqueue(coalesce="page 7")

    assert due_work.cancel(coalesce="page 7", now=NIGHT) == 1
    assert due_work.cancel(coalesce="page 7", now=NIGHT) == 0
    assert due_work.run_due(clock=lambda: later(9)) == 0


def test_a_failure_is_tried_again_later_and_then_left_with_its_error(failing: Callable[..., None]) -> None:
    failing(OSError("gateway down"))
    pk = _enqueue()

    due_work.run_one(pk, now=NIGHT)
    row = DueWork.objects.get(pk=pk)
    assert (row.state, row.attempts, row.error) == ("pending", 1, "OSError: gateway down")
    assert row.due_at > NIGHT
    pauses = [row.due_at - NIGHT]
    due_work.run_one(pk, now=later(10))
    row.refresh_from_db()
    pauses.append(row.due_at - later(10))
    due_work.run_one(pk, now=later(20))
    row.refresh_from_db()
    assert (row.state, row.attempts, row.finished_at) == ("failed", 3, later(20))
    assert pauses[0] < pauses[1]


def test_a_failure_that_passes_leaves_no_error(failing: Callable[..., None]) -> None:
    failing(OSError("gateway down"))
    pk = _enqueue()
    due_work.run_one(pk, now=NIGHT)
    failing(None)
    due_work.run_one(pk, now=later(10))

    row = DueWork.objects.get(pk=pk)
    assert (row.state, row.error) == ("done", "")


def test_a_dead_workers_row_is_taken_over_when_its_lease_ends(done: list[dict[str, Any]]) -> None:
    pk = _enqueue()
    DueWork.objects.filter(pk=pk).update(state="running", attempts=1, lease_until=later(2))

    assert not due_work.run_one(pk, now=later(1))
    assert due_work.run_one(pk, now=later(3))
    assert DueWork.objects.get(pk=pk).attempts == 2


def test_who_lost_the_lease_does_not_overwrite_who_took_over(done: list[dict[str, Any]]) -> None:
    registry._handlers.pop("test")
    pk = _enqueue_with(lambda **_: _take_over(pk))

    due_work.run_one(pk, now=NIGHT)

    row = DueWork.objects.get(pk=pk)
    assert (row.state, row.attempts, row.result) == ("done", 2, "by the other worker")


def test_a_failure_gives_way_to_a_newer_row_of_the_same_key(done: list[dict[str, Any]]) -> None:
    registry._handlers.pop("test")

    def handle(**_: Any) -> None:
        due_work.enqueue(kind="test", arguments={"n": 2}, due_at=later(1), now=NIGHT, coalesce="plan 1")
        raise OSError("half way")

    pk = _enqueue_with(handle, coalesce="plan 1")
    due_work.run_one(pk, now=NIGHT)

    states = DueWork.objects.order_by("pk").values_list("state", "error")
    assert list(states) == [("canceled", "OSError: half way"), ("pending", "")]


def test_a_kind_has_one_handler_and_an_unknown_kind_is_not_written(done: list[dict[str, Any]]) -> None:
    with pytest.raises(ValueError, match="already done by"):
        due_work.register("test", print)
    with pytest.raises(LookupError):
        due_work.enqueue(kind="no such work", arguments={}, due_at=NIGHT, now=NIGHT)
    assert not DueWork.objects.exists()


def _enqueue_with(handle: Callable[..., Any], **more: Any) -> int:
    due_work.register("test", handle, lease=timedelta(minutes=2), tries=3)
    return _enqueue(**more)


def _take_over(pk: int) -> str:
    DueWork.objects.filter(pk=pk).update(attempts=2, state="done", result="by the other worker", lease_until=None)
    return "too late"
