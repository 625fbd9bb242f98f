"""The one-process program: its runner is killed in the middle of a page while the web server goes on."""

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.dispatch.gateway import Gateway
from tests.faults.installation import until
from tests.rooms.test_crash import ROOT, Desk, Program

pytestmark = pytest.mark.long


@pytest.fixture
def program(tmp_path: Path, phones: Gateway) -> Iterator[Program]:
    running = Program(tmp_path)
    running.environment |= {"EBBLINE_NOTICE_WAY": "sms", "EBBLINE_SMS_ADDRESS": phones.address}
    yield running
    if running.process is not None and running.process.poll() is None:
        running.kill()


def test_a_runner_killed_in_mid_page_is_started_again_and_pages_once(program: Program, phones: Gateway) -> None:
    company = program.child("fill")
    program.start()
    phones.pause_s = 3.0
    desk = Desk(program, company, "360-555-0100", "ready").take()
    until(lambda: phones.asked, "nobody is paged")
    (runner,) = program.runners()
    os.kill(runner, signal.SIGKILL)
    (again,) = until(lambda: [pid for pid in program.runners() if pid != runner], "no runner any more")
    assert again != runner
    # The page that was cut off is in its hands until the lease of the dead one runs out.
    until(lambda: len(phones.asked) == 2, "the page is not sent again")
    until(lambda: len(phones.sent) == 1, "the page did not arrive")
    first, second = phones.asked
    assert (first["idempotency-key"], first["body"]) == (second["idempotency-key"], second["body"])
    until(lambda: program.child("tell")["sent"] == 1, "the page is not known as sent")
    program.kill()
    told = program.child("tell")
    assert [len(steps) for steps in told["asked"].values()] == [1]
    assert set(told["calls"]) == {str(desk.call_id)}
    assert {told["keys"][answer["key"]] for answer in desk.accepted} == {1}
    assert told["failed"] == []
    audit = [sys.executable, "manage.py", "audit_ledgers"]
    done = subprocess.run(audit, cwd=ROOT, env=program.environment, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout
