"""The one-process way to run: web server here, runner as a child process, so that a solver never freezes a page."""

import os
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager

from django.conf import settings
from django.core.management import call_command
from waitress import create_server

THREADS = 8


def prepare() -> None:
    """Bring the database to the newest shape."""
    call_command("migrate", interactive=False, verbosity=0)


@contextmanager
def runner() -> Iterator[None]:
    """A runner beside this process; none where Celery does the work."""
    if settings.REDIS_URL:
        yield
        return
    command = [sys.executable, str(settings.BASE_DIR / "manage.py"), "runner", "--parent", str(os.getpid())]
    child = subprocess.Popen(command)
    try:
        yield
    finally:
        child.terminate()
        child.wait(timeout=30)


def warm() -> None:
    """Load the solvers and the places before the first caller waits for them; it takes seconds, beside the serving."""
    from dispatch import offering  # noqa: F401  (importing loads the planner)
    from equipment.sizing import mix, power
    from jobs import places

    places.warm()
    mix.warm()
    power.warm()


def serve(*, host: str, port: int) -> None:
    """Answer requests until stopped."""
    from config.wsgi import application

    threading.Thread(target=warm, name="warm", daemon=True).start()
    server = create_server(application, host=host, port=port, threads=THREADS, ident="ebbline")
    try:
        server.run()
    finally:
        server.close()
