"""
Both ledgers at size: 5,000 units, 250,000 past moves, 200 open jobs on a PostgreSQL server that writes through (fsync).

    python -m tests.bench.bench_ledgers [--seconds 5] [--scans 200] [--flush-ms 3] [--bookings-only]

Starts a server of its own. Requests go through the whole program in this process, without network. Every time is given
by the clock and in processor time (ours and, in brackets, the database's), since the clock of a busy machine says
little. Goals on two cores: a scan 50 ms at the 95th percentile; availability and load lists 100 ms; 100 bookings a
second of one model and 2.5 times that of ten; the audit 60 s; ten people at once without an error.

How many bookings of one model there are hangs on how long the disk takes to flush, which is measured and printed. The
bookings run twice: on this disk, and as on one whose flush takes `--flush-ms` (PostgreSQL's `commit_delay`; 0: not).
"""

import argparse
import os
import random
import statistics
import tempfile
import time
from collections.abc import Callable
from dataclasses import asdict
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import uuid4

TICKS = os.sysconf("SC_CLK_TCK")
READS, FLUSHES = 30, 100


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[1])
    parser.add_argument("--seconds", type=float, default=5, help="how long each booking run lasts")
    parser.add_argument("--scans", type=int, default=200)
    parser.add_argument("--flush-ms", type=float, default=3, help="the second run's flush; 0: no second run")
    parser.add_argument("--bookings-only", action="store_true", help="no audit, scans, pages and people")
    given = parser.parse_args()
    from tests import servers

    with servers.postgres(durable=True) as server, tempfile.TemporaryDirectory() as folder:
        os.environ.update(DATABASE_URL=server.address, EBBLINE_DATA=folder, DJANGO_SETTINGS_MODULE="config.settings")
        os.environ["EBBLINE_SECRET_KEY"] = "of the bench alone " * 4
        os.environ.pop("REDIS_URL", None)
        import django

        django.setup()
        print(f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores; {_durability()}")
        flush_ms = _flush_ms()
        print(f"a flush of one page to the folder of the data: median {flush_ms:.2f} ms")
        company = _build()
        if not given.bookings_only:
            _audit()
            _scans(company, given.scans)
            _reads(company)
        _bookings(company, given.seconds, f"on this disk, {flush_ms:.1f} ms")
        if given.flush_ms > flush_ms:
            _slow_the_flush(given.flush_ms - flush_ms)
            _bookings(company, given.seconds, f"as on a disk of {given.flush_ms:.1f} ms", again=True)
            _slow_the_flush(0)
        if not given.bookings_only:
            _people(company)
            _audit()
        print(f"load at the end {os.getloadavg()[0]:.1f}")


def _durability() -> str:
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute("SELECT name || '=' || setting FROM pg_settings WHERE name IN ('fsync', 'synchronous_commit')")
        return ", ".join(row[0] for row in cursor.fetchall())


def _flush_ms() -> float:
    """How long the disk that holds the data takes to make one page durable, as the database's own log is."""
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute("SHOW data_directory")
        folder = cursor.fetchone()[0]
    page, walls = b"\0" * 8192, []
    with tempfile.NamedTemporaryFile(dir=folder, buffering=0) as file:
        for _ in range(FLUSHES):
            file.seek(0)
            file.write(page)
            start = time.perf_counter()
            os.fdatasync(file.fileno())
            walls.append(1000 * (time.perf_counter() - start))
    return statistics.median(walls)


def _slow_the_flush(more_ms: float) -> None:
    """Let the server wait before each flush, whether or not others wait for it too; 0: as it was."""
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute(f"ALTER SYSTEM SET commit_delay = {round(1000 * more_ms)}")
        cursor.execute("ALTER SYSTEM SET commit_siblings = 0")
        cursor.execute("SELECT pg_reload_conf()")


def _build() -> Any:
    from django.core.management import call_command
    from django.utils import timezone

    from equipment.models import Move, Reservation, ReservationEntry, UnitNow
    from tests.bench import ledger_books

    call_command("migrate", verbosity=0)
    start = time.perf_counter()
    company = ledger_books.build(timezone.now())
    tables = (UnitNow, Move, Reservation, ReservationEntry)
    said = ", ".join(f"{table.objects.count():,} {table._meta.verbose_name_plural}" for table in tables)
    print(f"built in {time.perf_counter() - start:.0f} s: {said}", flush=True)
    return company


class Spent:
    """Wall and processor time of one thing after another, ours and the database's."""

    def __init__(self) -> None:
        from django.db import connection

        connection.ensure_connection()
        self.backend = Path(f"/proc/{connection.connection.info.backend_pid}/stat")
        self.walls: list[float] = []
        self.cpu = self.database = 0.0

    def run(self, do: Callable[[], Any]) -> Any:
        wall, cpu, database = time.perf_counter(), time.process_time(), self._of_backend()
        found = do()
        self.walls.append(1000 * (time.perf_counter() - wall))
        self.cpu += 1000 * (time.process_time() - cpu)
        self.database += 1000 * (self._of_backend() - database)
        return found

    def _of_backend(self) -> float:
        parts = self.backend.read_text().rpartition(")")[2].split()
        return (int(parts[11]) + int(parts[12])) / TICKS

    def say(self, what: str) -> None:
        p95 = statistics.quantiles(self.walls, n=20)[-1] if len(self.walls) > 1 else self.walls[0]
        n = len(self.walls)
        print(
            f"{what:<44} median {statistics.median(self.walls):8.1f} ms, p95 {p95:8.1f} ms, "
            f"processor {self.cpu / n:8.1f} ms ({self.database / n:.1f})",
            flush=True,
        )


def _audit() -> None:
    from equipment.audit import audit

    spent = Spent()
    found = spent.run(audit)
    spent.say(f"audit, {len(found)} differences")
    assert found == (), found[:5]


def client(username: str) -> Any:
    """A signed-in client of the whole program."""
    from django.contrib.auth.models import User
    from django.test import Client

    made = Client(HTTP_HOST="localhost")
    made.force_login(User.objects.get(username=username))
    return made


def post(who: Any, path: str, body: dict[str, Any]) -> Any:
    """
    :raises AssertionError: unless it was done.
    """
    answer = who.post(f"/api/v1/{path}", {"key": str(uuid4()), **body}, content_type="application/json")
    assert answer.status_code < 300, (path, answer.status_code, answer.content[:300])
    return answer.json()


def get(who: Any, path: str) -> bytes:
    """
    :raises AssertionError: unless it was answered.
    """
    answer = who.get(path)
    assert answer.status_code == 200, (path, answer.status_code, answer.content[:300])
    return bytes(answer.content)


def ready_numbers(warehouse_id: int) -> list[str]:
    """The numbers of the units ready at a warehouse."""
    from equipment.models import UnitNow

    rows = UnitNow.objects.filter(holder__warehouse=warehouse_id, condition="ready")
    return list(rows.order_by("unit__model_id", "unit__number").values_list("unit__number", flat=True))


def _scans(company: Any, scans: int) -> None:
    from equipment.models import LoadList

    keeper, house = client("warehouse-0"), company.warehouse_ids[0]
    listed = LoadList.objects.filter(warehouse=house).order_by("pk")[0]
    numbers = ready_numbers(house)
    random.Random(1).shuffle(numbers)
    ways: dict[str, dict[str, Any]] = {
        "for a job": {"vehicle_id": company.vehicle_ids[0], "job_id": company.open_job_ids[0]},
        "for a load list": {"vehicle_id": listed.vehicle_id, "load_list_id": listed.pk},
    }
    for what, onto in ways.items():
        spent = Spent()
        for number in [numbers.pop() for _ in range(scans // 2)]:
            spent.run(lambda number=number, onto=onto: post(keeper, "moves/scan-out", {"numbers": [number], **onto}))
        spent.say(f"scan out {what}")
    spent, together = Spent(), [numbers.pop() for _ in range(40)]
    onto = ways["for a job"]
    for start in range(0, 40, 20):
        spent.run(lambda start=start: post(keeper, "moves/scan-out", {"numbers": together[start : start + 20], **onto}))
    spent.say("scan out 20 units together")
    from equipment.models import UnitNow

    aboard = UnitNow.objects.filter(holder__vehicle=company.vehicle_ids[0]).values_list("unit__number", flat=True)
    spent = Spent()
    for number in list(aboard)[: scans // 2]:
        spent.run(lambda number=number: post(keeper, "moves/scan-in", {"numbers": [number], "warehouse_id": house}))
    spent.say("scan in")
    path, numbers = f"/warehouse/{company.warehouse_codes[0]}/load/{listed.pk}", numbers[: scans // 4]
    spent = Spent()
    for number in numbers:
        sent = {"key": str(uuid4()), "do": "scan", "numbers": number}
        answer = spent.run(lambda sent=sent: keeper.post(path, sent))
        assert answer.status_code == 200, answer.content[:300]
    spent.say("scan on the load list's page")


def _reads(company: Any) -> None:
    desk, keeper = client("dispatcher-0"), client("warehouse-0")
    house, code = company.warehouse_ids[0], company.warehouse_codes[0]
    for what, who, path in (
        ("availability of everything", desk, "/api/v1/availability?limit=1000"),
        ("load lists", keeper, f"/api/v1/warehouses/{house}/departures"),
        ("load lists' page", keeper, f"/warehouse/{code}"),
        ("cleaning page", keeper, f"/warehouse/{code}/cleaning"),
        ("units left behind", keeper, f"/warehouse/{code}/left-behind"),
    ):
        get(who, path)
        spent = Spent()
        for _ in range(READS):
            spent.run(lambda who=who, path=path: get(who, path))
        spent.say(what)


def _bookings(company: Any, seconds: float, where: str, *, again: bool = False) -> None:
    from django.db import connection

    from tests.bench import ledger_people

    connection.close()
    plain = asdict(company)
    # A second run finds the models of the first given away.
    pools = company.pool_ids[11:] if again else company.pool_ids
    hot, ten = pools[:1], pools[1:11]
    rates = {}
    for what, of_run in (("one model", hot), ("ten models", ten)):
        answers = ledger_people.together("book", 4, plain, {"pools": of_run, "seconds": seconds})
        done = sum(answer["done"] for answer in answers)
        rates[what] = done / seconds
        cpu, database = (1000 * sum(answer[which] for answer in answers) / done for which in ("cpu", "database"))
        print(
            f"bookings of {what + ' ' + where:<44} {rates[what]:6.0f} a second, processor {cpu:.1f} ms "
            f"({database:.1f}) each, refused {sum(answer['refused'] for answer in answers)}",
            flush=True,
        )
    print(f"ten models to one {where}: {rates['ten models'] / rates['one model']:.2f}", flush=True)


def _people(company: Any) -> None:
    from django.db import connection

    from tests.bench import ledger_people

    connection.close()
    plain = asdict(company)
    start = time.perf_counter()
    answers = ledger_people.together("work", 10, plain, {"rounds": 12})
    errors = [error for answer in answers for error in answer["errors"]]
    walls = sorted(wall for answer in answers for wall in answer["walls"])
    print(
        f"ten people: {len(walls)} requests in {time.perf_counter() - start:.0f} s, "
        f"median {walls[len(walls) // 2]:.0f} ms, p95 {walls[int(0.95 * len(walls))]:.0f} ms, "
        f"{len(errors)} errors {errors[:3]}"
    )
    assert not errors


def soon(days: float) -> str:
    """So many days from now, as the API takes it."""
    from django.utils import timezone

    now: datetime = timezone.now()
    return (now + timedelta(days=days)).isoformat()


if __name__ == "__main__":
    main()
