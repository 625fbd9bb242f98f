"""People of the load bench: each sends at its own times, and skips what it is late for."""

import http.client
import json
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import count, cycle
from threading import Lock
from typing import Any
from uuid import uuid4

from tests.faults.installation import HOST, TOKEN

PHONE_S, SCANNER_S, DISPATCHER_S = 15.0, 2.0, 0.5
FIELDS = {
    "street": "5230 Teasel Field Court",
    "zip_code": "98664",
    "water_source": "supply_line",
    "running": "stopped",
    "power": "on",
    "category": "1",
    "room:a:line": "kitchen 12x14 floor 120 walls 60",
    "room:b:line": "hall 4x18",
    "lets_in": "owner",
    "can_sign": "owner",
}


@dataclass
class Tally:
    """What was planned and sent, how long each kind took in milliseconds, and what went wrong."""

    planned: int = 0
    sent: int = 0
    walls: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    errors: list[str] = field(default_factory=list)
    lock: Lock = field(default_factory=Lock)


@dataclass(frozen=True)
class Request:
    """One request and the kind under which its time is counted; `then` takes the answer."""

    kind: str
    method: str
    path: str
    body: dict[str, Any] | None = None
    then: Callable[[dict[str, str], bytes], None] = lambda headers, said: None


class Person:
    """Somebody with a session who sends one request after another."""

    def __init__(self, port: int, session: str, tally: Tally) -> None:
        self.port, self.tally = port, tally
        self.headers = {
            "Host": HOST,
            "X-Forwarded-Proto": "https",
            "Origin": f"https://{HOST}",
            "Cookie": f"sessionid={session}; csrftoken={TOKEN}",
            "X-CSRFToken": TOKEN,
            "Content-Type": "application/json",
        }

    def work(self, requests: Iterator[Request], *, begin: float, until: float, every_s: float) -> None:
        """One request at each of its times from `begin` on; a time that has passed by a whole pause is left out."""
        at = begin
        while at < until:
            self.tally.planned += 1
            ahead = at - time.monotonic()
            if ahead > 0:
                time.sleep(ahead)
            if ahead > -every_s:
                self._send(next(requests))
            at += every_s

    def _send(self, request: Request) -> None:
        body = None if request.body is None else json.dumps(request.body)
        headers = self.headers if body is None else {**self.headers, "Idempotency-Key": str(uuid4())}
        began = time.perf_counter()
        # A line of its own for each request, as a reverse proxy makes them.
        line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        try:
            line.request(request.method, request.path, body, headers)
            answer = line.getresponse()
            said = answer.read()
            wrong = "" if answer.status in (200, 201, 202, 302) else f"{answer.status} {said[:200]!r}"
        except (OSError, http.client.HTTPException) as error:
            wrong = f"{type(error).__name__}: {error}"
        finally:
            line.close()
        took_ms = 1000 * (time.perf_counter() - began)
        with self.tally.lock:
            self.tally.sent += 1
            self.tally.walls[request.kind].append(took_ms)
            if wrong:
                self.tally.errors.append(f"{request.method} {request.path}: {wrong}")
        if not wrong:
            request.then(dict(answer.getheaders()), said)


def phone(told: dict[str, Any]) -> Iterator[Request]:
    """A crew's day: it looks at the day, drives, arrives, works at the stop, finishes; then it only looks."""
    for visit in told["visits"]:
        yield Request("page", "GET", "/crew")
        yield Request("phone write", "POST", f"/api/v1/stops/{visit}/leave", {})
        yield Request("page", "GET", f"/crew/stops/{visit}")
        yield Request("phone write", "POST", f"/api/v1/stops/{visit}/arrive", {})
        yield Request("page", "GET", f"/crew/stops/{visit}")
        yield Request("phone write", "POST", f"/api/v1/stops/{visit}/finish", {})
    while True:
        yield Request("page", "GET", "/crew")


def scanner(told: dict[str, Any], area: dict[str, Any]) -> Iterator[Request]:
    """Units out to the van one by one, and back again; the page of the departures now and then."""
    out = {"vehicle_id": told["vehicle_id"]}
    back = {"warehouse_id": area["warehouse_id"]}
    for n in count():
        way, where = ("scan-out", out) if n % 2 == 0 else ("scan-in", back)
        for number in told["numbers"]:
            yield Request("scan", "POST", f"/api/v1/moves/{way}", {"numbers": [number], **where})
        yield Request("page", "GET", f"/warehouse/{area['warehouse_code']}")


def dispatcher(area: dict[str, Any]) -> Iterator[Request]:
    """Call after call, every field saved as it is typed, a look at the offers and at the board after each."""
    found: dict[str, int] = {}

    def opened(headers: dict[str, str], said: bytes) -> None:
        found["call"] = json.loads(said)["call_id"]

    for n in count():
        found.clear()
        number = f"360-555-{n % 10_000:04}"
        yield Request("new call", "POST", "/api/v1/calls", {"area_id": area["area_id"], "callback_number": number},
                      opened)  # fmt: skip
        if "call" not in found:
            continue
        call = f"/desk/calls/{found['call']}"
        yield Request("page", "GET", call)
        for key, value in FIELDS.items():
            body = {"key": str(uuid4()), "field": key, "value": value, "seen": 0}
            yield Request("field", "POST", f"{call}/answers", body)
        yield Request("page", "GET", f"{call}/offers")
        end = {"ended_as": "no_crew", "reason": "asked what it costs"}
        yield Request("call end", "POST", f"/api/v1/calls/{found['call']}/end", end)
        yield Request("page", "GET", "/desk")


def planner(area: dict[str, Any], seconds: int) -> Iterator[Request]:
    """One plan of tomorrow after another."""
    body = {"area": area["area_code"], "day": area["tomorrow"], "seconds": seconds}
    for _ in cycle([0]):
        yield Request("plan asked", "POST", "/api/v1/plans", body)
