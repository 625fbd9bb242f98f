"""Solving a day's problem in a process of its own, with word of how far it is."""

import json
import os
import queue
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from pathlib import Path
from typing import IO, Any

from django.conf import settings

from dispatch import routes
from dispatch.planner.finish import draft_of, finished
from dispatch.planner.plan import Plan, Search
from dispatch.snapshot import Snapshot

Word = Callable[[Mapping[str, Any]], None]
Alive = Callable[[float], object]
ALIVE_S = 10.0
# Steps of a process's niceness: with ten, whoever waits for a page has about nine tenths of a core that both want.
GIVES_WAY = 10


def solve_beside(
    problem: Mapping[str, Any],
    *,
    seconds: int | None,
    iterations: int | None,
    seed: int,
    start: Plan | None = None,
    on_progress: Word | None = None,
    on_alive: Alive | None = None,
) -> tuple[dict[str, Any] | None, str]:
    """
    The planner's answer from a child process (a routing search holds the interpreter for its whole run).

    :param start: the plan to begin from, e.g. the published routes.
    :param on_progress: told `{"seconds", "cost", "bound"}` at most every second, in this thread.
    :param on_alive: told the seconds so far about every ten seconds, also while the child says nothing.
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
        timeout_s = (seconds or 60) * 4 + 240
        status, said = _run(command, answer, timeout_s=timeout_s, on_progress=on_progress, on_alive=on_alive)
        if status is None:
            return None, "The planner did not answer in time."
        if status != 0:
            return None, (said or f"The planner stopped with status {status}.")[:300]
        return json.loads(answer.read_text(encoding="utf-8")), ""


def _run(
    command: list[str], answer: Path, *, timeout_s: float, on_progress: Word | None, on_alive: Alive | None
) -> tuple[int | None, str]:
    """The exit status (None: stopped for time) and what the child said besides its progress."""
    said: list[str] = []
    late = threading.Event()
    with answer.open("w", encoding="utf-8") as out:
        child = subprocess.Popen(command, cwd=settings.BASE_DIR, stdout=out, stderr=subprocess.PIPE, text=True)
    _behind_the_pages(child.pid)

    def stop() -> None:
        late.set()
        child.kill()

    timer = threading.Timer(timeout_s, stop)
    timer.start()
    try:
        with child:
            assert child.stderr is not None
            try:
                for line in _lines(child.stderr, on_alive):
                    word = _progress(line)
                    if word is None:
                        said.append(line)
                    elif on_progress is not None:
                        on_progress(word)
            except BaseException:
                # Inside, because leaving the block waits for the child.
                child.kill()
                raise
    finally:
        timer.cancel()
    return None if late.is_set() else child.returncode, "".join(said).strip()


def _behind_the_pages(pid: int) -> None:
    """Let a process that would use every core give way to whoever waits for a page."""
    if hasattr(os, "setpriority"):
        os.setpriority(os.PRIO_PROCESS, pid, min(19, os.getpriority(os.PRIO_PROCESS, 0) + GIVES_WAY))


def _lines(source: IO[str], on_alive: Alive | None) -> Iterator[str]:
    """The lines as they come; while they do, and while they do not, `on_alive` is told every ten seconds."""
    waiting: queue.SimpleQueue[str | None] = queue.SimpleQueue()

    def read() -> None:
        # Closed under us when whoever listened has given up.
        with suppress(ValueError):
            for line in source:
                waiting.put(line)
        waiting.put(None)

    threading.Thread(target=read, name="planner's words", daemon=True).start()
    began = told = time.monotonic()
    while True:
        try:
            line = waiting.get(timeout=ALIVE_S)
        except queue.Empty:
            pass
        else:
            if line is None:
                return
            yield line
        if on_alive is not None and time.monotonic() - told >= ALIVE_S:
            told = time.monotonic()
            on_alive(told - began)


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
