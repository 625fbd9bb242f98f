"""What the clients of the installation under fault do all the time, and that none of it is missing or doubled after."""

from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from threading import Event
from typing import Any

from tests.faults.installation import Installation, until
from tests.rooms.test_crash import ANSWERS

# After everything that the crews' own holds reach, and near enough to be believed.
FIRST_HOLD = datetime.now(UTC).replace(hour=0, minute=0, second=0, microsecond=0) + timedelta(days=60)


class Work:
    """Calls, holds, scans and readings, each by a client of its own, until told to stop."""

    def __init__(self, installation: Installation, company: dict[str, Any]) -> None:
        self.installation, self.company = installation, company
        self.enough, self.ended = Event(), 0
        self.accepted: Counter[str] = Counter()
        self.calls: list[dict[str, Any]] = []
        self.keys: list[str] = []
        self.shelf = list(company["shelf"])
        self.scanned: list[str] = []
        self.holds: list[str] = []
        self.air: list[float] = []

    def __call__(self, kinds: tuple[str, ...] = ("call", "hold", "scan", "read")) -> None:
        """One round of each kind, here and now."""
        for kind in kinds:
            self._one(kind)

    @contextmanager
    def going_on(self, *kinds: str) -> Iterator[None]:
        """The kinds are done beside the block, one client each; every one ends with what it has in hand."""
        self.enough.clear()

        def client(kind: str) -> None:
            try:
                while not self.enough.is_set():
                    self._one(kind)
            finally:
                self.ended += 1

        with ThreadPoolExecutor(len(kinds)) as pool:
            doing: list[Future[None]] = [pool.submit(client, kind) for kind in kinds]
            try:
                yield
            except BaseException:
                # Nobody goes on asking for minutes; what a client died of is told beside it.
                self.installation.patience_s = 0.0
                raise
            finally:
                self.enough.set()
                for one in doing:
                    one.result()

    def more(self, answers: int) -> None:
        """Until so many more writes are answered; at once when a client has failed, which the block then raises."""
        before = self.installation.answered
        until(
            lambda: self.installation.answered >= before + answers or self.ended,
            f"no answers any more: {self.installation.log('web')}",
        )
        assert not self.ended, "a client gave up"

    def _one(self, kind: str) -> None:
        do: dict[str, Callable[[], None]] = {
            "call": self._call, "hold": self._hold, "scan": self._scan, "read": self._read,
        }  # fmt: skip
        do[kind]()
        self.accepted[kind] += 1

    def _write(self, path: str, who: str, body: dict[str, Any]) -> dict[str, Any]:
        answer = self.installation.write(path, self.company["sessions"][who], body)
        self.keys.append(answer["key"])
        return answer

    def _call(self) -> None:
        number = f"360-555-{len(self.calls) + 2000}"
        sent = {"area_id": self.company["area_id"], "callback_number": number}
        call = {**self._write("calls", "dispatcher", sent), "number": number}
        for field in ("street", "zip_code", "room:a:line"):
            body = {"field": field, "value": ANSWERS[field], "seen": 0}
            self._write(f"calls/{call['call_id']}/answers", "dispatcher", body)
        self.calls.append(call)

    def _hold(self) -> None:
        starts_at = FIRST_HOLD + timedelta(days=len(self.holds))
        body = {
            "job_id": self.company["job_id"],
            "wanted": [{"pool_id": self.company["pool_id"], "units": 1}],
            "starts_at": starts_at.isoformat(),
            "ends_at": (starts_at + timedelta(hours=20)).isoformat(),
            "keep_for": "1 00:00:00",
            "leads_reason": "as the lead saw it",
        }
        self._write("holds", "dispatcher", body)
        self.holds.append(starts_at.isoformat())

    def _scan(self) -> None:
        number = self.shelf.pop()
        # Not for the job of the holds, which a unit that goes to it would draw.
        onto = {"vehicle_id": self.company["shelf_vehicle_id"], "job_id": self.company["scan_job_id"]}
        self._write("moves/scan-out", "warehouse", {"numbers": [number], **onto})
        self.scanned.append(number)

    def _read(self) -> None:
        dry_bulb_f = round(60 + len(self.air) / 10, 1)
        air = [{"where": "inside", "dry_bulb_f": dry_bulb_f, "rh_pct": 50.0}]
        self._write(f"jobs/{self.company['job_id']}/readings", "manager", {"air": air, "confirmed": True})
        self.air.append(dry_bulb_f)

    def is_there_once(self) -> dict[str, Any]:
        """
        Everything that was accepted is there once, nothing else is, and the audit of both ledgers is clean.

        :returns: what the database tells.
        """
        told: dict[str, Any] = self.installation.tell()
        calls = {call["answers"]["callback_number"]: call for call in told["calls"].values()}
        mine = {call["number"] for call in self.calls}
        assert {number for number in calls if number.startswith("360-555-2")} == mine
        assert sum(call["answers"]["callback_number"] in mine for call in told["calls"].values()) == len(mine)
        for number in mine:
            assert calls[number]["answers"]["street"] == ANSWERS["street"]
            assert calls[number]["versions"]["street"] == 1
        assert {told["keys"].get(key) for key in self.keys} <= {1}
        assert told["on_shelf_moved"] == dict.fromkeys(self.scanned, 1)
        assert told["air"] == {str(value): 1 for value in self.air}
        far = {at: number for at, number in told["holds"].items() if at >= FIRST_HOLD.isoformat()}
        assert far == dict.fromkeys(self.holds, 1)
        assert told["failed"] == []
        self.installation.audit()
        return told
