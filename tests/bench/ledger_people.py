"""Processes of the program that work on one company together: booking as fast as they can, or a night's mixed work."""

import itertools
import multiprocessing
import random
import time
from collections.abc import Callable
from datetime import timedelta
from typing import Any
from uuid import uuid4

Answer = dict[str, Any]


def together(what: str, people: int, company: dict[str, Any], terms: dict[str, Any]) -> list[Answer]:
    """
    Let so many processes do the same from one moment on; what each answers.

    `cpu` and `database` of an answer are processor seconds: its own, and those of its database connection.
    """
    spawn = multiprocessing.get_context("spawn")
    barrier, answers = spawn.Barrier(people), spawn.Queue()
    running = [spawn.Process(target=_one, args=(what, n, company, terms, barrier, answers)) for n in range(people)]
    for process in running:
        process.start()
    found = [answers.get() for _ in running]
    for process in running:
        process.join()
    return found


def _one(what: str, n: int, company: dict[str, Any], terms: dict[str, Any], barrier: Any, answers: Any) -> None:
    import django

    django.setup()
    from tests.bench.bench_ledgers import Spent

    spent, do = Spent(), {"book": _book, "work": _work}[what]
    prepared = do(n, company, **terms)
    barrier.wait()
    found = spent.run(prepared)
    answers.put({**found, "cpu": spent.cpu / 1000, "database": spent.database / 1000})


def _book(n: int, company: dict[str, Any], *, pools: tuple[int, ...], seconds: float) -> Callable[[], Answer]:
    """One unit at a time for one to three of the next hundred days."""
    from django.contrib.auth.models import User
    from django.utils import timezone

    from equipment import reservations

    actor, chance, counted = User.objects.get(username=f"dispatcher-{n}"), random.Random(n), {"done": 0, "refused": 0}

    def book() -> None:
        now = timezone.now()
        start = now + timedelta(days=5 + 100 * chance.random())
        try:
            reservations.hold(
                key=uuid4(),
                actor=actor,
                now=now,
                job_id=chance.choice(company["open_job_ids"]),
                wanted=((chance.choice(pools), 1),),
                starts_at=start,
                ends_at=start + timedelta(days=chance.randint(1, 3)),
                keep_for=timedelta(hours=1),
                leads_reason="as the lead saw it",
            )
            counted["done"] += 1
        except reservations.Short:
            counted["refused"] += 1

    def run() -> Answer:
        until = time.perf_counter() + seconds
        while time.perf_counter() < until:
            book()
        return counted

    return run


def _work(n: int, company: dict[str, Any], *, rounds: int) -> Callable[[], Answer]:
    """Four keep a warehouse each, three sit at the desk, three lead crews."""
    from tests.bench import bench_ledgers as bench

    role = ("warehouse", "warehouse", "warehouse", "warehouse", "dispatcher", "dispatcher", "dispatcher")[n : n + 1]
    kind = role[0] if role else "crew_lead"
    who, house = bench.client(f"{kind}-{n}"), company["warehouse_ids"][n % 4]
    numbers = bench.ready_numbers(house)[n // 4 * 40 :][:40]
    van, job = company["vehicle_ids"][n], company["open_job_ids"][n]
    deeds: dict[str, tuple[Callable[[str], Any], ...]] = {
        "warehouse": (
            lambda number: bench.post(who, "moves/scan-out", {"numbers": [number], "vehicle_id": van, "job_id": job}),
            lambda number: bench.get(who, f"/api/v1/warehouses/{house}/departures"),
            lambda number: bench.post(who, "moves/scan-in", {"numbers": [number], "warehouse_id": house}),
        ),
        "dispatcher": (
            lambda number: bench.get(who, "/api/v1/availability"),
            lambda number: bench.post(who, "holds", _hold(job, company["pool_ids"][n], bench.soon)),
        ),
        "crew_lead": (
            lambda number: bench.post(who, "moves/place", {"numbers": [number], "job_id": job, "room_name": "hall"}),
            lambda number: bench.post(who, "moves/take-up", {"numbers": [number], "job_id": job, "vehicle_id": van}),
        ),
    }
    walls, errors = [], []

    def run() -> Answer:
        for number, deed in itertools.product(numbers[:rounds], deeds[kind]):
            start = time.perf_counter()
            try:
                deed(number)
            except Exception as error:
                errors.append(f"{kind}: {type(error).__name__}: {error}"[:300])
            walls.append(1000 * (time.perf_counter() - start))
        return {"walls": walls, "errors": errors}

    return run


def _hold(job: int, pool: int, soon: Callable[[float], str]) -> dict[str, Any]:
    return {
        "job_id": job,
        "wanted": [{"pool_id": pool, "units": 1}],
        "starts_at": soon(120),
        "ends_at": soon(122),
        "keep_for": "01:00:00",
        "leads_reason": "as the lead saw it",
    }
