"""The one-process way to run: web server here, runner as a child process, so that a solver never freezes a page."""

import logging
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
LOOK_S, PAUSE_S = 0.5, 3.0
log = logging.getLogger(__name__)


def prepare() -> None:
    """Bring the database to the newest shape."""
    call_command("migrate", interactive=False, verbosity=0)


@contextmanager
def runner() -> Iterator[None]:
    """A runner beside this process, started again when it dies; none where Celery does the work."""
    if settings.REDIS_URL:
        yield
        return
    ended = threading.Event()
    keeper = threading.Thread(target=_keep_runner, args=(ended,), name="runner's keeper", daemon=True)
    keeper.start()
    try:
        yield
    finally:
        ended.set()
        keeper.join()


def _keep_runner(ended: threading.Event) -> None:
    """In a thread that lives as long as the runner may: on Linux a child dies with the thread that started it."""
    command = [sys.executable, str(settings.BASE_DIR / "manage.py"), "runner", "--parent", str(os.getpid())]
    child = subprocess.Popen(command)
    while not ended.wait(LOOK_S):
        if child.poll() is not None:
            log.error("the runner ended with %s and is started again", child.returncode)
            # One that cannot run must not take the web process's time.
            if ended.wait(PAUSE_S):
                return
            child = subprocess.Popen(command)
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
