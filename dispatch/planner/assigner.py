"""
The assignment in a process of its own, which can be killed: CP-SAT now and then overruns, and a deadline is a promise.

The process is started when the search starts, so that loading OR-Tools does not wait for the search to end.
"""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
import threading
from pathlib import Path
from typing import Any, BinaryIO

from dispatch.planner.assign import WORK_LIMIT, Chosen
from dispatch.planner.columns import Choice, Columns

ROOT = Path(__file__).resolve().parents[2]
# With a count of work instead of a clock, this only guards against a solver that never comes back.
PATIENCE_S = 120.0


class Assigner:
    """One assignment to come. Use as a context manager; leaving it ends the process whatever it does."""

    def __init__(self) -> None:
        paths = [str(ROOT), *filter(None, [os.environ.get("PYTHONPATH")])]
        self._process = subprocess.Popen(
            [sys.executable, "-c", "from dispatch.planner.assigner import serve; serve()"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env={**os.environ, "PYTHONPATH": os.pathsep.join(paths)},
        )

    def __enter__(self) -> Assigner:
        return self

    def __exit__(self, *_: object) -> None:
        self._process.kill()
        for pipe in (self._process.stdin, self._process.stdout):
            if pipe is not None:
                try:
                    pipe.close()
                except BrokenPipeError:
                    continue
        self._process.wait()

    def choose(self, columns: Columns, choice: Choice, held: tuple[int, ...], seconds: float | None) -> Chosen | None:
        """As ``assign.choose``; null if there is no answer in ``seconds`` (null: until the work limit is spent)."""
        patience = PATIENCE_S if seconds is None else seconds
        answers: list[Chosen] = []
        asked = (columns, choice, held, 0.8 * patience, WORK_LIMIT)
        talk = threading.Thread(target=self._talk, args=(asked, answers), daemon=True)
        talk.start()
        talk.join(patience)
        if talk.is_alive():
            self._process.kill()
            talk.join()
        return answers[-1] if answers else None

    def _talk(self, asked: tuple[Any, ...], answers: list[Chosen]) -> None:
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        try:
            pickle.dump(asked, self._process.stdin)
            self._process.stdin.close()
            while True:
                answers.append(pickle.load(self._process.stdout))
        except (BrokenPipeError, EOFError, pickle.UnpicklingError):
            # It has said all it had to say, or was killed for being late: the last answer stands.
            return


def serve(source: BinaryIO | None = None, sink: BinaryIO | None = None) -> None:
    """Answer one question: first with a bound, then in full. The solvers load while it is still on its way."""
    from ortools.linear_solver import pywraplp  # noqa: F401
    from ortools.sat.python import cp_model  # noqa: F401

    from dispatch.planner.assign import choose

    out = sink or sys.stdout.buffer

    def say(chosen: Chosen) -> None:
        pickle.dump(chosen, out)
        out.flush()

    columns, choice, held, seconds, work = pickle.load(source or sys.stdin.buffer)
    say(choose(columns, choice, held, seconds=seconds, work=work, on_bound=say))
