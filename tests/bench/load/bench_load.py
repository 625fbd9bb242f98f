"""
A busy evening on the program as a company runs it: PostgreSQL that writes through, Redis, several web processes, Celery
workers of both queues, beat; crews' phones, warehouse scanners, dispatchers, and a plan being solved all the time.

    python -m tests.bench.load.bench_load [--minutes 5] [--web 2]       one area: 40 phones, 10 scanners, 4 dispatchers
    python -m tests.bench.load.bench_load --areas 1,2,4,8 [--minutes 2] a share of that for each area: what it costs

A phone sends one request in 15 s, a scanner one in 2 s, a dispatcher two a second with every field saved. Goals on two
cores: 90 % of the planned requests sent, no error, 95th percentile 300 ms for pages and 100 ms for scans, and processor
time for each request that does not grow with the number of areas. Run it on quiet cores: the clients share them, and
their own processor time is given. The last lines are a table for DEVELOPERS.md.
"""

import argparse
import json
import os
import resource
import statistics
import tempfile
import threading
import time
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import psycopg

from tests import servers
from tests.bench.load import people
from tests.dispatch.gateway import gateway
from tests.faults.installation import Installation, until

TICKS = os.sysconf("SC_CLK_TCK")
GOALS_MS = {"page": 300, "scan": 100}
WHOLE, SHARE = (40, 10, 4), (10, 2, 1)
SOLVE_S = 20


@dataclass(frozen=True)
class Run:
    """One run's figures; processor time in seconds."""

    areas: int
    tally: people.Tally
    own_cpu_s: float
    server_cpu_s: dict[str, float]
    seconds: float
    plans: dict[str, int]

    @property
    def ms_each(self) -> float:
        """The servers' processor time for each request, without the solving, in milliseconds."""
        return 1000 * (sum(self.server_cpu_s.values()) - self.server_cpu_s["plan"]) / max(1, self.tally.sent)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[1])
    parser.add_argument("--minutes", type=float, default=5)
    parser.add_argument("--web", type=int, default=2, help="web processes")
    parser.add_argument("--areas", default="", help="such as 1,2,4,8: a share of the load for each area")
    given = parser.parse_args()
    print(f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores, {given.web} web processes", flush=True)
    numbers = [int(n) for n in given.areas.split(",") if n]
    runs = []
    for areas in numbers or [1]:
        runs.append(run(areas, SHARE if numbers else WHOLE, minutes=given.minutes, web=given.web))
        say(runs[-1])
    if numbers:
        growth(runs)
    print(f"load at the end {os.getloadavg()[0]:.1f}")


def run(areas: int, each: tuple[int, int, int], *, minutes: float, web: int) -> Run:
    """Start everything, let everybody work, and count."""
    with ExitStack() as stack:
        database = stack.enter_context(servers.postgres(durable=True))
        broker = stack.enter_context(servers.redis_server())
        phones = stack.enter_context(gateway())
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        with psycopg.connect(database.address, autocommit=True) as asked:
            asked.execute("CREATE DATABASE load")
        address = database.address.rpartition("/")[0] + "/load"
        made = Installation(folder, address, broker, phones.address)
        made.environment["EBBLINE_WEB_PROCESSES"] = str(web)
        company = json.loads(made.manage(*map(str, (areas, *each)), module="tests.bench.load.company"))
        stack.callback(made.stop)
        made.start("web", "quick", "plan", "beat")
        _warm(made, company)
        roots = {name: process.pid for name, process in made.running.items()}
        roots |= {"postgres": database.pid, "redis": broker.pid}
        before = {name: cpu_s(pid) for name, pid in roots.items()}
        own = resource.getrusage(resource.RUSAGE_SELF)
        began = time.monotonic()
        tally = _together(made, company, 60 * minutes)
        spent = {name: cpu_s(pid) - before[name] for name, pid in roots.items()}
        mine = resource.getrusage(resource.RUSAGE_SELF)
        states = dict(made.sql("SELECT state, count(*) FROM dispatch_plan GROUP BY state"))
        return Run(
            areas, tally, mine.ru_utime + mine.ru_stime - own.ru_utime - own.ru_stime, spent,
            time.monotonic() - began, states,
        )  # fmt: skip


def _warm(made: Installation, company: list[dict[str, Any]]) -> None:
    """Every process has answered, and a first plan is solved, as on a program that has run for an hour."""
    area, tally = company[0], people.Tally()
    desk = people.Person(made.port, area["dispatchers"][0], tally)
    until(lambda: made.ask("/healthz")[0] == 200, f"not well: {made.ask('/healthz')}")
    for request in (*_first(people.dispatcher(area), 16), *_first(people.planner(area, 1), 1)):
        desk._send(request)
    for path, session in (("/crew", area["phones"][0]["session"]), ("/desk", area["dispatchers"][0])):
        for _ in range(10):
            assert made.ask(path, session)[0] == 200
    assert not tally.errors, tally.errors[:3]
    until(lambda: not made.sql("SELECT 1 FROM dispatch_plan WHERE state = 'asked'"), "the first plan is not solved")


def _first(requests: Any, number: int) -> Any:
    for _ in range(number):
        yield next(requests)


def _together(made: Installation, company: list[dict[str, Any]], seconds: float) -> people.Tally:
    """Everybody of every area, spread over their pauses."""
    tally = people.Tally()
    working = []
    begin = time.monotonic() + 1
    for area in company:
        kinds = [(person["session"], people.phone(person), people.PHONE_S) for person in area["phones"]]
        kinds += [(one["session"], people.scanner(one, area), people.SCANNER_S) for one in area["scanners"]]
        kinds += [(session, people.dispatcher(area), people.DISPATCHER_S) for session in area["dispatchers"]]
        kinds.append((area["dispatchers"][0], people.planner(area, SOLVE_S), SOLVE_S + 5))
        for n, (session, requests, every_s) in enumerate(kinds):
            person = people.Person(made.port, session, tally)
            terms = {"begin": begin + every_s * (n * 0.618 % 1), "until": begin + seconds, "every_s": every_s}
            working.append(threading.Thread(target=person.work, args=(requests,), kwargs=terms))
    for thread in working:
        thread.start()
    for thread in working:
        thread.join()
    return tally


def cpu_s(pid: int) -> float:
    """Processor seconds of a process, of those it started, and of those of them that have ended."""
    try:
        stat = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
        threads = list(Path(f"/proc/{pid}/task").glob("*/children"))
        children = [int(child) for thread in threads for child in thread.read_text().split()]
    except OSError:
        return 0.0
    return sum(int(part) for part in stat[11:15]) / TICKS + sum(map(cpu_s, children))


def say(done: Run) -> None:
    tally, total = done.tally, sum(done.server_cpu_s.values())
    print(f"\n{done.areas} area(s), {done.seconds:.0f} s: sent {tally.sent} of {tally.planned} planned requests "
          f"({100 * tally.sent / max(1, tally.planned):.1f} %), {len(tally.errors)} errors")  # fmt: skip
    for error in tally.errors[:5]:
        print(f"  {error}")
    print(f"processor: clients {done.own_cpu_s:.1f} s, servers {total:.1f} s ("
          + ", ".join(f"{name} {spent:.1f}" for name, spent in done.server_cpu_s.items())
          + f"), {done.ms_each:.1f} ms a request without the solving; plans: {done.plans}")  # fmt: skip
    print("\n| kind | requests | p50, ms | p95, ms | goal, ms |\n| --- | --- | --- | --- | --- |")
    for kind, walls in sorted(tally.walls.items()):
        p95 = statistics.quantiles(walls, n=20)[-1] if len(walls) > 1 else walls[0]
        goal = GOALS_MS.get(kind)
        missed = "" if goal is None or p95 <= goal else " (missed)"
        print(f"| {kind} | {len(walls)} | {statistics.median(walls):.0f} | {p95:.0f} | {goal or ''}{missed} |")


def growth(runs: list[Run]) -> None:
    print(
        "\n| areas | requests a second | processor a request, ms | processor an area, s a minute | against one area |"
    )
    print("| --- | --- | --- | --- | --- |")
    first = runs[0].ms_each
    for done in runs:
        minute = 60 / done.seconds / done.areas * (sum(done.server_cpu_s.values()) - done.server_cpu_s["plan"])
        print(f"| {done.areas} | {done.tally.sent / done.seconds:.1f} | {done.ms_each:.1f} | {minute:.2f} | "
              f"{done.ms_each / first:.2f} |")  # fmt: skip


if __name__ == "__main__":
    main()
