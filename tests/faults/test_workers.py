"""Workers killed with `kill -9` in the middle of what they do: a plan, a page, the next step of a call-out."""

import os
import signal
from typing import Any

import pytest

from tests.dispatch.gateway import Gateway
from tests.faults.installation import Installation, until
from tests.faults.work import Work
from tests.rooms.test_crash import Desk

pytestmark = pytest.mark.long


def _plan(installation: Installation, plan_id: int) -> dict[str, Any]:
    plans: list[dict[str, Any]] = installation.tell("plans")
    return next(plan for plan in plans if plan["id"] == plan_id)


def _ask_plan(installation: Installation, company: dict[str, Any], **more: Any) -> int:
    body = {"area": company["area_code"], "day": company["day"], "seconds": 6, **more}
    asked = installation.write("plans", company["sessions"]["dispatcher"], body)
    return int(asked["plan_id"])


def _begun(installation: Installation, plan_id: int, attempt: int) -> bool:
    """The search has found something, and this is its so-and-so-manieth try."""
    asked = (
        "SELECT 1 FROM dispatch_plan p JOIN jobs_duework w ON (w.arguments->>'plan_id')::int = p.id "
        f"WHERE p.id = {plan_id} AND p.state = 'asked' AND p.progress->>'cost' IS NOT NULL "
        f"AND w.state = 'running' AND w.attempts = {attempt}"
    )
    return bool(installation.sql(asked)) and bool(installation.planners())


@pytest.mark.parametrize("whole_service", [True, False], ids=["the whole service", "the process that solves"])
def test_killed_in_mid_solve_the_plan_is_worked_out_again(
    installation: Installation, company: dict[str, Any], work: Work, whole_service: bool
) -> None:
    installation.start("web", "quick", "plan", "beat")
    plan_id = _ask_plan(installation, company, publish=True)
    until(lambda: _begun(installation, plan_id, 1), f"nobody solves: {installation.log('plan')}")
    if whole_service:
        installation.kill("plan")
        installation.start("plan")
    else:
        (solves,) = {installation.parent(pid) for pid in installation.planners()}
        os.kill(solves, signal.SIGKILL)
    until(lambda: not installation.planners(), "the search goes on for nobody")
    work(("call", "scan"))
    plan = until(
        lambda: (found := _plan(installation, plan_id))["work"] == "done" and found,
        f"the plan is stuck: {installation.log('plan')}",
    )
    assert (plan["state"], plan["attempts"], plan["failure"]) == ("published", 2, "")
    assert plan["stops"] > 10
    day = company["day"]
    assert not installation.sql(
        f"SELECT job_id FROM jobs_visit WHERE due_on = '{day}' GROUP BY job_id HAVING count(*) > 1"
    )
    assert not installation.sql(
        "SELECT vehicle_id FROM equipment_loadlist GROUP BY vehicle_id, departs_at HAVING count(*) > 1"
    )
    work.is_there_once()


def test_killed_in_mid_page_each_step_is_paged_once_and_the_call_out_goes_on(
    installation: Installation, company: dict[str, Any], work: Work, phones: Gateway
) -> None:
    installation.start("web", "quick", "beat")
    phones.pause_s = 2.0
    desk = Desk(installation, company, "360-555-0100", "ready").take()  # type: ignore[arg-type]
    for step in (1, 2):
        until(lambda step=step: len(phones.sent) + bool(phones.asked) > step - 1 and _paging(phones), "nobody is paged")
        installation.kill("quick")
        installation.start("quick")
        until(lambda step=step: _sent(installation) >= step, f"the page is not sent: {installation.log('quick')}")
        if step == 1:
            phones.asked.clear()
            installation.tell("late")
    told = until(lambda: (all_told := work.is_there_once())["work"].get("running", 0) == 0 and all_told, "stuck")
    call_out = {step.partition("/")[0] for step in told["steps"]}
    assert len(call_out) == 1
    (number,) = call_out
    assert told["steps"] == [f"{number}/1", f"{number}/2"]
    assert told["pages"] == {f"{number}/1": 1, f"{number}/2": 1}
    sent = {key for key, state in told["notices"].items() if state == "sent"}
    assert len(sent) == 2
    assert sent <= set(phones.sent), "what counts as sent did ring"
    assert len(phones.asked) > 1, "it was cut off once, and sent again under the same key"
    assert {told["keys"][answer["key"]] for answer in desk.accepted} == {1}


def _paging(phones: Gateway) -> bool:
    """The gateway has been asked, and has not answered yet."""
    return any(told["idempotency-key"] not in phones.sent for told in phones.asked) or bool(phones.asked)


def _sent(installation: Installation) -> int:
    return len(installation.sql("SELECT 1 FROM dispatch_notice WHERE state = 'sent' AND step_id IS NOT NULL"))
