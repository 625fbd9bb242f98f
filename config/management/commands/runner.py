"""Do timed and background work as it falls due, when no Celery worker does."""

import os
import signal
import threading
import time
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.db import close_old_connections
from django.utils import timezone

from dispatch.planner.warm import warm
from jobs import due_work

POLL_S = 0.5
STANDING_S = 300.0


class Command(BaseCommand):
    help = "Do timed and background work as it falls due."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--once", action="store_true", help="do what is due now and stop")
        parser.add_argument("--parent", type=int, help="stop when this process is no longer the parent")

    def handle(self, *args: Any, once: bool, parent: int | None, **options: Any) -> None:
        going = True

        def stop(*_: Any) -> None:
            nonlocal going
            going = False

        signal.signal(signal.SIGTERM, stop)
        signal.signal(signal.SIGINT, stop)
        if parent is not None:
            die_with_parent()
        if not once:
            # The first compilation on a machine takes a minute; nobody's plan should wait for it.
            threading.Thread(target=warm, name="warm the planner", daemon=True).start()
        kept_at = 0.0
        while going and (parent is None or os.getppid() == parent):
            if time.monotonic() - kept_at > STANDING_S or not kept_at:
                due_work.ensure_standing(now=timezone.now())
                kept_at = time.monotonic()
            done = due_work.run_due()
            if once:
                return
            if not done:
                close_old_connections()
                time.sleep(POLL_S)


def die_with_parent() -> None:
    """On Linux: be told when the web process dies, however it dies. Elsewhere the parent's id is watched."""
    import ctypes
    import sys

    if sys.platform == "linux":
        set_parent_death_signal = 1
        ctypes.CDLL(None, use_errno=True).prctl(set_parent_death_signal, signal.SIGTERM)
