"""Solving a day's problem in a process of its own, with word of how far it is."""

import json
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from django.conf import settings

from dispatch import routes
from dispatch.planner.finish import draft_of, finished
from dispatch.planner.plan import Plan, Search
from dispatch.snapshot import Snapshot

Word = Callable[[Mapping[str, Any]], None]


def solve_beside(
    problem: Mapping[str, Any],
    *,
    seconds: int | None,
    iterations: int | None,
    seed: int,
    start: Plan | None = None,
    on_progress: Word | None = None,
) -> tuple[dict[str, Any] | None, str]:
    """
    The planner's answer from a child process (a routing search holds the interpreter for its whole run).

    :param start: the plan to begin from, e.g. the published routes.
    :param on_progress: told `{"seconds", "cost", "bound"}` at most every second, in this thread.
    :returns: the plan's JSON and "", or None and what went wrong.
    """
    limit = ["--iterations", str(iterations)] if iterations else ["--seconds", str(seconds)]
    with tempfile.TemporaryDirectory(prefix="ebbline-plan-") as name:
        folder = Path(name)
        (folder / "problem.json").write_text(json.dumps(problem), encoding="utf-8")
        command = [sys.executable, "-m", "dispatch.planner", "solve", str(folder / "problem.json"), *limit]
        command += ["--seed", str(seed), "--progress"]
        if start is not None:
            (folder / "start.json").write_text(json.dumps(start.to_json()), encoding="utf-8")
            command += ["--start", str(folder / "start.json")]
        answer = folder / "plan.json"
        # The first run on a machine compiles the search, which takes a minute on busy cores.
        status, said = _run(command, answer, timeout_s=(seconds or 60) * 4 + 240, on_progress=on_progress)
        if status is None:
            return None, "The planner did not answer in time."
        if status != 0:
            return None, (said or f"The planner stopped with status {status}.")[:300]
        return json.loads(answer.read_text(encoding="utf-8")), ""


def _run(command: list[str], answer: Path, *, timeout_s: float, on_progress: Word | None) -> tuple[int | None, str]:
    """The exit status (None: stopped for time) and what the child said besides its progress."""
    said: list[str] = []
    late = threading.Event()
    with answer.open("w", encoding="utf-8") as out:
        child = subprocess.Popen(command, cwd=settings.BASE_DIR, stdout=out, stderr=subprocess.PIPE, text=True)

    def stop() -> None:
        late.set()
        child.kill()

    timer = threading.Timer(timeout_s, stop)
    timer.start()
    try:
        with child:
            assert child.stderr is not None
            for line in child.stderr:
                word = _progress(line)
                if word is None:
                    said.append(line)
                elif on_progress is not None:
                    on_progress(word)
    except BaseException:
        child.kill()
        raise
    finally:
        timer.cancel()
    return None if late.is_set() else child.returncode, "".join(said).strip()


def _progress(line: str) -> dict[str, Any] | None:
    try:
        word = json.loads(line)
    except ValueError:
        return None
    return word if isinstance(word, dict) and word.keys() == {"seconds", "cost", "bound"} else None


def published_plan(shot: Snapshot) -> Plan | None:
    """
    The routes as they stand, as a plan of the same problem; None if nobody has a stop yet.

    What stands on no route is left out of it at its price, save emergencies, which are put where they fit.
    """
    if not shot.routes:
        return None
    frame = routes.frame_for(shot)
    orders: list[list[int]] = [[] for _ in frame.crews]
    for route in shot.routes:
        orders[frame.crew_at[route["crew"]]] = [frame.visit_at[name] for name in route["visits"]]
    return finished(frame, draft_of(frame, orders), Search())
