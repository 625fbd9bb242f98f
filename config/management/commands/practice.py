"""`manage.py practice`: a practice night for new people, beside the real company and apart from it."""

import os
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand


class Command(BaseCommand):
    help = (
        "Serve the invented company in a database of its own, with invented calls that ring on /desk/practice and a "
        "review after each. Nothing is sent to anybody, and nothing of the real company is read or changed."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--host", default="127.0.0.1")
        parser.add_argument("--port", type=int, default=8001)
        parser.add_argument(
            "--folder", type=Path, help="where the practice is kept; 'practice' in EBBLINE_DATA without it"
        )

    def handle(self, *args: Any, host: str, port: int, folder: Path | None, **options: Any) -> None:
        if settings.PRACTICE:
            self.stdout.write("A practice night: sign in as the dispatcher and open /desk/practice.")
            call_command("demo", host=host, port=port)
            return
        data = (folder or Path(settings.DATA_DIR) / "practice").resolve()
        data.mkdir(mode=0o700, parents=True, exist_ok=True)
        command = [sys.executable, sys.argv[0], "practice", "--host", host, "--port", str(port)]
        # Another process, since where the data lies is read once: this one must never open the real database.
        os.execve(command[0], command, environment(data))


def environment(data: Path) -> dict[str, str]:
    """The environment of the practice: nothing of this installation's data, messages, workers, boards or lookups."""
    return {
        **os.environ,
        "EBBLINE_PRACTICE": "yes",
        "EBBLINE_MODE": "embedded",
        "EBBLINE_DATA": str(data),
        "DATABASE_URL": "",
        "DATABASE_URL_FILE": "",
        "REDIS_URL": "",
        "REDIS_URL_FILE": "",
        "EBBLINE_NOTICE_TRANSPORT": "dispatch.practice.nothing.send_nothing",
        "EBBLINE_BOARD_KEEP": "0",
        "EBBLINE_GEOCODER": "",
    }
