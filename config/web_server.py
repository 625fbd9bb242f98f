"""Several web processes behind one address: `gunicorn -c python:config.web_server config.wsgi`."""

import os
import threading
from pathlib import Path
from typing import Any

from config import env, logs

ROOT = Path(__file__).resolve().parent.parent
env.load_file(ROOT / ".env")

bind = env.text("EBBLINE_BIND", "127.0.0.1:8000")
workers = env.whole("EBBLINE_WEB_PROCESSES", 2, at_least=1)
worker_class = "gthread"
threads = env.whole("EBBLINE_WEB_THREADS", 8, at_least=1)
timeout = 60
graceful_timeout = 30
# Each process is replaced once in a while, not all at the same moment.
max_requests, max_requests_jitter = 20_000, 2_000
# Nobody steers the processes from a socket in somebody's home; older versions have none.
control_socket_disable = True
# Our own line for each request has no address and no search words in it.
accesslog = None
logconfig_dict = logs.configuration(style="json", level=env.text("EBBLINE_LOG_LEVEL", "INFO").upper())
logconfig_dict["loggers"]["gunicorn.error"] = {"handlers": ["console"], "level": "INFO", "propagate": False}

_counts = Path(env.text("EBBLINE_DATA", str(ROOT / "var"))) / "metrics"
# The package reads this name itself, when it is imported: before that, and in every process.
os.environ["PROMETHEUS_MULTIPROC_DIR"] = str(_counts)


def on_starting(server: Any) -> None:
    """Begin with no counts: those of processes that are gone would stand still for ever."""
    _counts.mkdir(parents=True, exist_ok=True)
    for kept in _counts.glob("*.db"):
        kept.unlink()


def post_worker_init(worker: Any) -> None:
    """Load solvers and places beside the first requests, not inside one."""
    from config.serving import warm

    threading.Thread(target=warm, name="warm", daemon=True).start()


def child_exit(server: Any, worker: Any) -> None:
    """Let the counts of a process that ended count as ended."""
    from prometheus_client import multiprocess

    multiprocess.mark_process_dead(worker.pid)
