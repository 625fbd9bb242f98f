"""PostgreSQL is restarted while everybody works: they send again with their keys, and all of it is there once."""

import signal
import time
from typing import Any

import pytest

from tests import servers
from tests.faults.installation import Installation, until
from tests.faults.work import Work
from tests.rooms.test_crash import Desk

pytestmark = pytest.mark.long


def test_restarted_and_crashed_under_load(
    installation: Installation, company: dict[str, Any], work: Work, database_server: servers.Server
) -> None:
    installation.start("web", "quick", "beat")
    dispatcher = company["sessions"]["dispatcher"]
    desk = Desk(installation, company, "360-555-0100", "ready").take()  # type: ignore[arg-type]
    with work.going_on("call", "hold", "scan", "read"):
        # In order, rolling everybody back; then as if the plug were pulled.
        for how in (signal.SIGINT, signal.SIGQUIT):
            work.more(12)
            database_server.stop(how)
            status, _, said = installation.ask("/healthz")
            assert (status, b"does not answer" in said) == (503, True)
            status, headers, said = installation.ask("/desk", dispatcher)
            assert (status, headers["Retry-After"], b"cannot reach its records" in said) == (503, "5", True)
            time.sleep(2)
            database_server.start_again()
            until(lambda: installation.ask("/livez")[0] == 200, "no process found the database again", within_s=20)
            work.more(12)
    assert set(work.accepted) == {"call", "hold", "scan", "read"}
    until(lambda: installation.ask("/healthz")[0] == 200, f"not well again: {installation.ask('/healthz')}")
    assert installation.ask("/desk", dispatcher)[0] == 200
    installation.tell("late")
    until(lambda: len(installation.sql("SELECT 1 FROM dispatch_calloutstep")) == 2, installation.log("quick"))
    told = work.is_there_once()
    assert len(told["steps"]) == 2
    assert set(told["pages"].values()) == {1}
    assert {told["keys"][answer["key"]] for answer in desk.accepted} == {1}
