"""Solving in a process of its own: what it answers and says, and that it gives way to the pages."""

import os
import sys
from pathlib import Path

from dispatch import solving


def test_the_solving_process_gives_way_to_whoever_waits_for_a_page(tmp_path: Path) -> None:
    here = os.getpriority(os.PRIO_PROCESS, 0)
    asked = "import os; print(os.getpriority(os.PRIO_PROCESS, 0))"
    # The child looks only after a moment, as the planner does, which has to load first.
    command = [sys.executable, "-c", f"import time; time.sleep(0.5); {asked}"]
    status, said = solving._run(command, tmp_path / "answer", timeout_s=60, on_progress=None, on_alive=None)
    assert (status, said) == (0, "")
    assert int((tmp_path / "answer").read_text()) == min(19, here + solving.GIVES_WAY)


def test_what_a_broken_solver_said_comes_back_with_its_status(tmp_path: Path) -> None:
    command = [sys.executable, "-c", "import sys; print('no such day', file=sys.stderr); sys.exit(3)"]
    answered = solving._run(command, tmp_path / "answer", timeout_s=60, on_progress=None, on_alive=None)
    assert answered == (3, "no such day")
