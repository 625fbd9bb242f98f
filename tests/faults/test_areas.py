"""Two areas are planned at the same time by two workers, and what befalls one of them is no matter of the other."""

import os
import signal
from pathlib import Path
from typing import Any

import pytest

from tests.faults.installation import Installation, until
from tests.faults.work import Work

pytestmark = pytest.mark.long


def test_two_areas_are_solved_at_once_and_one_that_fails_harms_no_other(
    installation: Installation, company: dict[str, Any], work: Work
) -> None:
    installation.start("web", "quick", "plan", "beat")
    asked = {}
    for code in (company["area_code"], company["other_code"]):
        body = {"area": code, "day": company["day"], "seconds": 12, "publish": True}
        asked[code] = installation.write("plans", company["sessions"]["dispatcher"], body)["plan_id"]
    running = "SELECT 1 FROM jobs_duework WHERE kind = 'dispatch.run_plan' AND state = 'running'"
    until(lambda: len(installation.sql(running)) == 2 and len(installation.planners()) == 2, "one after the other")
    searches = {_area_of(installation, pid): pid for pid in installation.planners()}
    assert searches.keys() == asked.keys()
    assert len({installation.parent(pid) for pid in searches.values()}) == 2, "two workers"
    os.kill(searches[company["other_code"]], signal.SIGKILL)

    def ended() -> Any:
        plans = {plan["area"]: plan for plan in installation.tell("plans")}
        return {plan["work"] for plan in plans.values()} == {"done"} and plans

    plans = until(ended, f"a plan is stuck: {installation.log('plan')}")
    well, ill = plans[company["area_code"]], plans[company["other_code"]]
    assert (well["state"], well["attempts"], well["failure"]) == ("published", 1, "")
    assert well["stops"] > 10
    assert (ill["state"], ill["stops"]) == ("failed", 0)
    assert "stopped with status -9" in ill["failure"]
    board = installation.ask(f"/desk?area={company['other_code']}", company["sessions"]["dispatcher"])
    assert board[0] == 200
    assert installation.sql("SELECT a.code FROM equipment_alarm e JOIN jobs_area a ON a.id = e.area_id "
                            "WHERE e.kind = 'no_plan'") == [(company["other_code"],)]  # fmt: skip

    again = {"area": company["other_code"], "day": company["day"], "seconds": 2, "publish": True}
    plan_id = installation.write("plans", company["sessions"]["dispatcher"], again)["plan_id"]
    state = f"SELECT 1 FROM dispatch_plan WHERE id = {plan_id} AND state = 'published'"
    until(lambda: installation.sql(state), f"not planned again: {installation.log('plan')}")
    work.is_there_once()


def _area_of(installation: Installation, pid: int) -> str:
    """Whose day the search works on: by the crews of its problem."""
    command = Path(f"/proc/{pid}/cmdline").read_bytes().split(b"\0")
    problem = Path(command[command.index(b"solve") + 1].decode()).read_text(encoding="utf-8")
    crews = dict(
        installation.sql("SELECT 'c' || c.id, a.code FROM dispatch_crew c JOIN jobs_area a ON a.id = c.area_id")
    )
    return next(str(code) for name, code in crews.items() if f'"{name}"' in problem)
