"""The processes of a rehearsal: each fleet on an empty database of its own, which is gone afterwards."""

import json
import subprocess
import sys
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from django.conf import settings

from dispatch.replay.place import environment


class RehearsalBroke(RuntimeError):
    """
    The process of a fleet ended without a result; what it said stands on standard error.

    :ivar status: its exit status; 2 for a company or a fleet that was refused.
    """

    def __init__(self, message: str, *, status: int) -> None:
        super().__init__(message)
        self.status = status


def rehearse_beside(told: Mapping[str, Any]) -> list[dict[str, Any]]:
    """
    Run `python -m dispatch.rehearsal` for one fleet; its progress goes to our standard error.

    :raises RehearsalBroke: if it gave no result.
    """
    with environment(None) as its, tempfile.TemporaryDirectory(prefix="ebbline-rehearsal-") as folder:
        asked, answer = Path(folder) / "asked.json", Path(folder) / "answer.json"
        asked.write_text(json.dumps(told), encoding="utf-8")
        command = [sys.executable, "-m", "dispatch.rehearsal", str(asked), str(answer)]
        status = subprocess.run(command, cwd=settings.BASE_DIR, env=its, check=False).returncode
        if status != 0 or not answer.is_file():
            message = f"The rehearsal of the fleet {told['fleet']} ended with status {status} and without a result."
            raise RehearsalBroke(message, status=status)
        found: list[dict[str, Any]] = json.loads(answer.read_text(encoding="utf-8"))
        return found
