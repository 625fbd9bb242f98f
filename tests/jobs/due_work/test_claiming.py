"""Many workers look at the same rows at the same time; each row is done by one of them."""

import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from typing import Any

import pytest
from django.db import connection

from jobs.due_work import queue, registry, run

NOW = datetime(2026, 1, 16, 6, 47, tzinfo=UTC)
WORKERS = 4


@pytest.fixture
def calls() -> Iterator[list[int]]:
    """The rows that the handler of kind "race" was given."""
    asked: list[int] = []

    def handle(*, work_id: int, **_: Any) -> None:
        asked.append(work_id)

    registry.register("race", handle)
    yield asked
    registry._handlers.pop("race")


@pytest.mark.django_db(transaction=True)
def test_many_workers_at_the_same_rows_do_each_once(calls: list[int]) -> None:
    rows = [queue.enqueue(kind="race", arguments={}, due_at=NOW, now=NOW) for _ in range(10)]
    together = threading.Barrier(WORKERS)

    def work(_: int) -> int:
        try:
            together.wait()
            return sum(run.run_one(pk, now=NOW) for pk in rows)
        finally:
            connection.close()

    with ThreadPoolExecutor(WORKERS) as workers:
        done = sum(workers.map(work, range(WORKERS)))

    assert done == len(rows)
    assert sorted(calls) == rows
