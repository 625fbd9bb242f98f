"""The runner's clock jumps an hour ahead and an hour back: every step, page and hold moves on once, none is stuck."""

import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from tests.dispatch.gateway import Gateway
from tests.faults.installation import until
from tests.faults.test_runner import program
from tests.rooms.test_crash import ROOT, Desk, Program

__all__ = ["program"]
pytestmark = pytest.mark.long
# The runner itself, in a process whose clock goes on from another hour.
ELSEWHEN = """
import sys, datetime, time_machine, django
with time_machine.travel(datetime.datetime.now(datetime.UTC) + datetime.timedelta(hours=float(sys.argv[1]))):
    django.setup()
    from django.core.management import call_command
    call_command("runner")
"""


@contextmanager
def _runner(program: Program, hours: float) -> Iterator[None]:
    command = [sys.executable, "-c", ELSEWHEN, str(hours)]
    running = subprocess.Popen(command, cwd=ROOT, env=program.environment)
    try:
        yield
        assert running.poll() is None, "the runner ended"
    finally:
        running.kill()
        running.wait()


def test_an_hour_ahead_and_an_hour_back(program: Program, phones: Gateway) -> None:
    company = program.child("fill")
    program.start()
    desk = Desk(program, company, "360-555-0100", "ready").take()
    until(lambda: len(phones.sent) == 1, "nobody is paged")
    starts_at = datetime.now(UTC) + timedelta(days=2)
    body = {
        "job_id": desk.sent["job_id"],
        "wanted": [{"pool_id": company["pool_id"], "units": 1}],
        "starts_at": starts_at.isoformat(),
        "ends_at": (starts_at + timedelta(hours=5)).isoformat(),
        "keep_for": "00:30:00",
        "leads_reason": "as the lead saw it",
    }
    held = program.write("holds", company["sessions"]["dispatcher"], body)
    program.kill()
    before = program.child("tell")
    assert [len(steps) for steps in before["asked"].values()] == [1]

    with _runner(program, +1):
        until(lambda: _is_through(program.child("tell")), "ahead of the time nobody moves on")
    ahead = program.child("tell")
    for hours in (-1.0, 0.0):
        with _runner(program, hours):
            time.sleep(8)
    back = program.child("tell")
    _moved_on_once(back, phones)
    assert back == ahead, "what was done ahead of the time is neither done again nor undone"

    program.child("late")
    with _runner(program, -1):
        time.sleep(8)
    assert program.child("tell")["asked"] == back["asked"], "an hour back it is not time yet"
    with _runner(program, 0):
        until(lambda: program.child("tell")["exhausted"], "the call-out is stuck")
    _moved_on_once(program.child("tell"), phones)
    assert {program.child("tell")["keys"][key] for key in (held["key"], *(one["key"] for one in desk.accepted))} == {1}
    audit = [sys.executable, "manage.py", "audit_ledgers"]
    done = subprocess.run(audit, cwd=ROOT, env=program.environment, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout


def _is_through(told: dict[str, Any]) -> bool:
    """The next person is asked, the hold is over, and no message waits."""
    return [len(steps) for steps in told["asked"].values()] == [2] and bool(told["ended_holds"]) and not told["unsent"]


def _moved_on_once(told: dict[str, Any], phones: Gateway) -> None:
    assert [len(steps) for steps in told["asked"].values()] == [2]
    assert told["first_pages"] == [1, 1], "each step has one first page"
    assert told["ended_holds"] == {"expired": 1}, "the hold that nobody confirmed is freed once"
    assert told["sent"] == len(phones.sent)
    assert told["failed"] == []
