"""Redis is gone for a minute and comes back empty: pages answer and say what waits, and all of it is done after."""

import signal
import time
from typing import Any

import pytest

from tests import servers
from tests.dispatch.gateway import Gateway
from tests.faults.installation import Installation, until
from tests.faults.work import Work
from tests.rooms.test_crash import Desk

pytestmark = pytest.mark.long
AWAY_S = 60.0
# Of a page while the broker is away, on busy cores: no page waits for it.
SOON_S = 5.0


def test_away_for_a_minute_and_empty_after(
    installation: Installation, company: dict[str, Any], work: Work, broker: servers.Server, phones: Gateway
) -> None:
    installation.start("web", "quick", "plan", "beat")
    dispatcher = company["sessions"]["dispatcher"]
    before = Desk(installation, company, "360-555-0100", "ready").take()  # type: ignore[arg-type]
    until(lambda: len(phones.sent) == 1, f"nobody is paged: {installation.log('quick')}")
    broker.stop(signal.SIGKILL)
    away = time.monotonic()
    meanwhile = Desk(installation, company, "360-555-0101", "empty").take()  # type: ignore[arg-type]
    asked = {"area": company["area_code"], "day": company["day"], "seconds": 2, "publish": True}
    plan_id = installation.write("plans", dispatcher, asked)["plan_id"]
    slowest, words = 0.0, False
    while time.monotonic() < away + AWAY_S:
        work()
        for path in ("/desk", f"/desk/plans/{plan_id}"):
            began = time.monotonic()
            status, _, page = installation.ask(path, dispatcher)
            slowest = max(slowest, time.monotonic() - began)
            assert status == 200
            words |= b"Messages and plans wait." in page and b"1 message" in page
        assert b"Getting ready: it waits for its turn" in page
        installation.start_what_ended()
        time.sleep(2)
    status, _, said = installation.ask("/healthz")
    assert (status, b'"broker": "does not answer"' in said) == (503, True)
    assert words, "the board does not say what waits"
    assert slowest < SOON_S
    assert len(phones.sent) == 1
    broker.start_again()
    installation.start_what_ended()

    until(lambda: len(phones.sent) >= 2, f"not paged after: {installation.log('quick')}{installation.log('beat')}")
    state = f"SELECT 1 FROM dispatch_plan WHERE id = {plan_id} AND state = 'published'"
    until(lambda: installation.sql(state), f"not planned after: {installation.log('plan')}")
    until(lambda: installation.ask("/healthz")[0] == 200, f"not well again: {installation.ask('/healthz')}")
    assert b"Messages and plans wait." not in installation.ask("/desk", dispatcher)[2]
    told = work.is_there_once()
    assert len(told["steps"]) == 2
    assert set(told["pages"].values()) == {1}
    for desk in (before, meanwhile):
        assert {told["keys"][answer["key"]] for answer in desk.accepted} == {1}
