"""
The program as a company runs it: several web processes, workers of both queues, beat, PostgreSQL, Redis, a gateway for
text messages; every one of them can be killed. Clients write with idempotency keys and send again until answered.
"""

import http.client
import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any
from uuid import uuid4

import psycopg

from tests import servers

ROOT = Path(__file__).resolve().parents[2]
PATIENCE_S = 240.0
HOST = "desk.example.com"
TOKEN = "k" * 32
METRICS = "m" * 40


def until(true: Callable[[], Any], what: str, *, within_s: float = PATIENCE_S) -> Any:
    """
    What the question answers as soon as that is true.

    :raises AssertionError: if it takes too long.
    """
    end = time.monotonic() + within_s
    while not (found := true()):
        assert time.monotonic() < end, what
        time.sleep(0.1)
    return found


def _stat(pid: int) -> list[str]:
    """State, parent, group and so on: what follows the name in /proc/PID/stat."""
    return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()


class Installation:
    """One company's processes on a database that is made for it, and what its clients were answered."""

    def __init__(self, folder: Path, database: str, redis: servers.Server, gateway: str) -> None:
        self.folder, self.port, self.database = folder, servers._free_port(), database
        self.answered = self.broken = 0
        self.patience_s = PATIENCE_S
        self._count = threading.Lock()
        self.running: dict[str, subprocess.Popen[bytes]] = {}
        secrets = {
            "EBBLINE_SECRET_KEY": "".join(chr(48 + n) for n in range(60)),
            "DATABASE_URL": database,
            "REDIS_URL": redis.address,
            "EBBLINE_METRICS_TOKEN": METRICS,
        }
        ours = ("EBBLINE_", "DATABASE_URL", "REDIS_URL", "DJANGO_")
        self.environment = {name: value for name, value in os.environ.items() if not name.startswith(ours)}
        for name, value in secrets.items():
            (folder / name).write_text(value)
            self.environment[f"{name}_FILE"] = str(folder / name)
        self.environment |= {
            "DJANGO_SETTINGS_MODULE": "config.settings",
            "EBBLINE_MODE": "production",
            "EBBLINE_DATA": str(folder / "data"),
            "EBBLINE_HOSTS": HOST,
            "EBBLINE_ORIGINS": f"https://{HOST}",
            "EBBLINE_ADDRESS": f"https://{HOST}",
            "EBBLINE_BIND": f"127.0.0.1:{self.port}",
            "EBBLINE_WEB_PROCESSES": "2",
            "EBBLINE_SMS_ADDRESS": gateway,
            # Nobody is asked before a test says so, however slow the machine is.
            "EBBLINE_CALL_OUT_MINUTES": "60",
            "EBBLINE_SECOND_TRY_MINUTES": "0",
            "EBBLINE_LOG_LEVEL": "WARNING",
        }

    # Processes.

    def start(self, *names: str) -> None:
        """Any of `web`, `quick`, `plan`, `beat`, as the deployment page starts them."""
        for name in names:
            self._start(name)
        if "web" in names:
            until(lambda: self.ask("/livez")[0] == 200, f"no answer from the web processes: {self.log('web')}")

    def _start(self, name: str) -> None:
        celery = [sys.executable, "-m", "celery", "-A", "config"]
        command = {
            "web": [sys.executable, "-m", "gunicorn", "-c", "python:config.web_server", "config.wsgi"],
            "quick": [*celery, "worker", "-Q", "quick", "-c", "2", "-n", "quick@here"],
            "plan": [*celery, "worker", "-Q", "plan", "-c", "2", "-n", "plan@here"],
            "beat": [*celery, "beat", "--schedule", str(self.folder / "beat")],
        }[name]
        with (self.folder / f"{name}.log").open("ab") as log:
            self.running[name] = subprocess.Popen(
                command, cwd=ROOT, env=self.environment, stdin=subprocess.DEVNULL, stdout=log, stderr=log,
                start_new_session=True, preexec_fn=servers._die_with_parent,
            )  # fmt: skip

    def start_what_ended(self) -> None:
        """As the units say: a service that ended by itself is started again."""
        for name, process in list(self.running.items()):
            if process.poll() is not None:
                self._start(name)

    def kill(self, name: str) -> None:
        """The whole service at once, as if its machine were gone."""
        process = self.running.pop(name)
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()

    def children(self, name: str) -> list[int]:
        """The processes that the service's first process started: those that do the work."""
        pid = self.running[name].pid
        return [int(child) for child in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]

    def parent(self, pid: int) -> int:
        return int(_stat(pid)[1])

    def planners(self) -> list[int]:
        """The processes that search for a plan, of this installation's plan workers, dead or alive."""
        found = []
        for folder in Path("/proc").glob("[0-9]*"):
            try:
                command = (folder / "cmdline").read_bytes()
                mine = f"EBBLINE_DATA={self.folder}/".encode() in (folder / "environ").read_bytes()
            except OSError:
                continue
            if b"dispatch.planner\0solve" in command and mine:
                found.append(int(folder.name))
        return found

    def stop(self) -> None:
        for name in list(self.running):
            self.kill(name)

    def log(self, name: str) -> str:
        return (self.folder / f"{name}.log").read_text(errors="replace")[-4_000:]

    def manage(self, *arguments: str, module: str = "") -> str:
        """What a command of the program, or another module in its environment, printed."""
        start = ["-m", module] if module else ["manage.py"]
        done = subprocess.run(
            [sys.executable, *start, *arguments], cwd=ROOT, env=self.environment, capture_output=True, text=True,
            check=False,
        )  # fmt: skip
        assert done.returncode == 0, done.stdout + done.stderr
        return done.stdout

    def tell(self, word: str = "tell") -> Any:
        return json.loads(self.manage(word, module="tests.faults.company"))

    def audit(self) -> None:
        self.manage("audit_ledgers")

    def sql(self, question: str) -> list[tuple[Any, ...]]:
        with psycopg.connect(self.database) as asked:
            return asked.execute(question.encode()).fetchall()

    # Clients.

    def ask(self, path: str, session: str = "", method: str = "GET", body: Any = None, **headers: str) -> Any:
        """Status, headers and body of one request as the reverse proxy passes it on; status 0: the line broke."""
        line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        given = {"Host": HOST, "X-Forwarded-Proto": "https", "Origin": f"https://{HOST}", **headers}
        if session:
            given |= {"Cookie": f"sessionid={session}; csrftoken={TOKEN}", "X-CSRFToken": TOKEN}
        if body is not None:
            given["Content-Type"] = "application/json"
        try:
            line.request(method, path, None if body is None else json.dumps(body), given)
            answer = line.getresponse()
            return answer.status, dict(answer.getheaders()), answer.read()
        except (OSError, http.client.HTTPException):
            with self._count:
                self.broken += 1
            return 0, {}, b""
        finally:
            line.close()

    def write(self, path: str, session: str, body: dict[str, Any], key: str = "") -> dict[str, Any]:
        """One write under one key, sent again while it is not answered or the program says that it cannot now."""
        key = key or str(uuid4())
        began = time.monotonic()
        while True:
            status, _, said = self.ask(f"/api/v1/{path}", session, "POST", body, **{"Idempotency-Key": key})
            if 200 <= status < 300:
                break
            assert status == 0 or status >= 500, (path, body, status, said)
            assert time.monotonic() < began + self.patience_s, (path, status, said[:300], self.log("web"))
            time.sleep(0.1)
        with self._count:
            self.answered += 1
        return {**json.loads(said), "key": key}
