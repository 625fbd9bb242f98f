"""
`kill -9` on the real program, web server and runner, in the middle of requests: what was accepted is there once, what
was asked for moves on, and the ledgers agree.
"""

import http.client
import json
import os
import random
import signal
import socket
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest

ROOT = Path(__file__).resolve().parents[2]
STARTS_WITHIN_S = 90
TOKEN = "k" * 32
ANSWERS = {
    "street": "5230 Teasel Field Court",
    "zip_code": "98664",
    "water_source": "supply_line",
    "running": "stopped",
    "power": "on",
    "category": "1",
    "room:a:line": "kitchen 12x14 floor 120 walls 60",
    "lets_in": "owner",
    "can_sign": "owner",
}
SCANNED = [f"20{n:02}" for n in range(12, 20)]


class Program:
    """`manage.py serve` with its runner, on a database and a port of its own."""

    def __init__(self, folder: Path) -> None:
        kept = {name: value for name, value in os.environ.items() if name not in {"DATABASE_URL", "REDIS_URL"}}
        self.environment = {**kept, "EBBLINE_DATA": str(folder), "DJANGO_SETTINGS_MODULE": "config.settings"}
        self.environment["EBBLINE_LOG_LEVEL"] = "WARNING"
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.folder = folder
        self.process: subprocess.Popen[bytes] | None = None
        self.up = threading.Event()
        self.answered = 0

    def start(self) -> None:
        command = [sys.executable, "manage.py", "serve", "--port", str(self.port)]
        self.process = subprocess.Popen(command, cwd=ROOT, env=self.environment)
        until = time.monotonic() + STARTS_WITHIN_S
        while True:
            assert self.process.poll() is None, "the program ended by itself"
            assert time.monotonic() < until, "the program does not answer"
            try:
                with socket.create_connection(("127.0.0.1", self.port), timeout=1):
                    break
            except OSError:
                time.sleep(0.1)
        self.up.set()

    def kill(self) -> None:
        """Web server and runner at once, as if the plug were pulled on both."""
        assert self.process is not None
        self.up.clear()
        for pid in (self.process.pid, *self.runners()):
            os.kill(pid, signal.SIGKILL)
        self.process.wait()

    def runners(self) -> list[int]:
        """The processes that the web server started."""
        assert self.process is not None
        threads = Path(f"/proc/{self.process.pid}/task").glob("*/children")
        return [int(pid) for thread in threads for pid in thread.read_text().split()]

    def child(self, *arguments: str) -> Any:
        done = subprocess.run(
            [sys.executable, "-m", "tests.rooms.crash_night", *arguments],
            cwd=ROOT, env=self.environment, capture_output=True, text=True, check=False,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout)

    def write(self, path: str, session: str, body: dict[str, Any], key: str = "") -> dict[str, Any]:
        """One write with one key, sent again until it is answered, as a client with a bad line does it."""
        key = key or str(uuid4())
        headers = {
            "Content-Type": "application/json",
            "Idempotency-Key": key,
            "Cookie": f"sessionid={session}; csrftoken={TOKEN}",
            "X-CSRFToken": TOKEN,
        }
        while True:
            assert self.up.wait(STARTS_WITHIN_S), "the program was not started again"
            line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
            try:
                line.request("POST", f"/api/v1/{path}", json.dumps(body), headers)
                answer = line.getresponse()
                said = answer.read()
            except (OSError, http.client.HTTPException):
                time.sleep(0.05)
                continue
            finally:
                line.close()
            assert answer.status < 300, (path, body, answer.status, said)
            self.answered += 1
            return {**json.loads(said), "key": key}


@pytest.fixture
def program(tmp_path: Path) -> Iterator[Program]:
    if not Path("/proc/self/task").exists():
        pytest.skip("children are found in /proc")
    running = Program(tmp_path)
    yield running
    if running.process is not None and running.process.poll() is None:
        running.kill()


class Desk:
    """One dispatcher's call, from the number to the crew, with everything that was accepted."""

    def __init__(self, program: Program, company: dict[str, Any], number: str, crew: str) -> None:
        self.program, self.company, self.number, self.crew = program, company, number, crew
        self.accepted: list[dict[str, Any]] = []

    def write(self, path: str, body: dict[str, Any]) -> dict[str, Any]:
        answer = self.program.write(path, self.company["sessions"]["dispatcher"], body)
        self.accepted.append(answer)
        return answer

    def take(self) -> "Desk":
        area_id = self.company["area_id"]
        self.call_id = self.write("calls", {"area_id": area_id, "callback_number": self.number})["call_id"]
        for field, value in ANSWERS.items():
            self.write(f"calls/{self.call_id}/answers", {"field": field, "value": value, "seen": 0})
        self.sent = self.write(f"calls/{self.call_id}/send", {"crew_id": self.company["crews"][self.crew]})
        return self


def kill_while_working(program: Program, work: list[Callable[[], Any]], moments: list[int], seed: int) -> list[Any]:
    """Do all the work at once; after so many answers each time, and a random blink, kill and start again."""
    draw = random.Random(seed)
    with ThreadPoolExecutor(len(work)) as pool:
        doing = [pool.submit(one) for one in work]
        for moment in moments:
            while program.answered < moment and not all(one.done() for one in doing):
                time.sleep(0.005)
            time.sleep(draw.uniform(0, 0.2))
            program.kill()
            program.start()
        return [one.result() for one in doing]


def wait_for_steps(program: Program, wanted: int) -> None:
    """Until so many people were asked in all."""
    until = time.monotonic() + STARTS_WITHIN_S
    with closing(sqlite3.connect(f"file:{program.folder}/ebbline.sqlite3?mode=ro", uri=True)) as database:
        while database.execute("SELECT count(*) FROM dispatch_calloutstep").fetchone()[0] < wanted:
            assert time.monotonic() < until, "nobody else was asked"
            time.sleep(0.2)


def check_once(told: dict[str, Any], desks: list[Desk]) -> None:
    """Nothing that was accepted is missing, and nothing is there twice."""
    assert sorted(told["calls"]) == sorted(str(desk.call_id) for desk in desks)
    assert len(told["jobs"]) == len(desks)
    for desk in desks:
        call, job_id = told["calls"][str(desk.call_id)], str(desk.sent["job_id"])
        assert call["answers"]["callback_number"] == desk.number
        assert call["answers"]["street"] == ANSWERS["street"]
        assert all(call["versions"][field] == 1 for field in ANSWERS if field in call["versions"])
        assert {told["keys"][answer["key"]] for answer in desk.accepted} == {1}
        assert told["jobs"][job_id]["calls"] == [desk.call_id]
        assert (told["visits"][job_id], told["stops"][job_id]) == (1, 1)
        assert told["held"][job_id] == counted(desk.sent["held"])
    assert told["loaded"] == dict.fromkeys(SCANNED, 1)
    assert told["failed"] == []


def counted(held: list[dict[str, Any]]) -> dict[str, int]:
    total: dict[str, int] = {}
    for row in held:
        total[row["model"]] = total.get(row["model"], 0) + row["count"]
    return total


def run(program: Program, moments: list[int], seed: int) -> None:
    company = program.child("fill")
    desks = [Desk(program, company, f"360-555-01{n}0", crew) for n, crew in enumerate(("ready", "empty"), start=1)]

    def scan() -> None:
        for number in SCANNED:
            body = {"numbers": [number], "vehicle_id": company["vehicle_id"]}
            program.write("moves/scan-out", company["sessions"]["warehouse"], body)

    program.start()
    kill_while_working(program, [*(desk.take for desk in desks), scan], moments, seed)
    program.kill()
    told = program.child("tell", "late")
    check_once(told, desks)
    assert [len(steps) for steps in told["asked"].values()] == [1, 1]

    draw = random.Random(seed)
    for _ in moments[1:]:  # perhaps in the middle of asking the next person
        program.start()
        time.sleep(draw.uniform(0, 3))
        program.kill()
    program.start()
    wait_for_steps(program, 4)
    program.kill()
    told = program.child("tell")
    check_once(told, desks)
    assert [len(steps) for steps in told["asked"].values()] == [2, 2]
    audit = [sys.executable, "manage.py", "audit_ledgers"]
    done = subprocess.run(audit, cwd=ROOT, env=program.environment, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout


def test_nothing_accepted_is_lost_or_doubled_and_the_escalation_still_fires(program: Program) -> None:
    run(program, [14], seed=1)


@pytest.mark.long
@pytest.mark.parametrize("seed", range(2, 8))
def test_the_same_at_many_moments(program: Program, seed: int) -> None:
    run(program, sorted(random.Random(seed).sample(range(1, 30), 5)), seed)
