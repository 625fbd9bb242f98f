"""
The database of a replay: a process of its own, whose environment names it before the settings are read.

A folder (SQLite) or a postgres address; without either a folder that is gone afterwards.
"""

import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings
from django.db import connection

from jobs.models import Area, UseCaseCall

# How long a plan may search where its step does not say: enough for a night's few crews.
ITERATIONS = "2000"


@contextmanager
def environment(database: str | None) -> Iterator[dict[str, str]]:
    """The environment of the process that replays: nothing of this installation's data, messages or workers."""
    with tempfile.TemporaryDirectory(prefix="ebbline-replay-") as folder:
        address = database if database and database.startswith(("postgres://", "postgresql://")) else ""
        data = database if database and not address else folder
        yield {
            **os.environ,
            "EBBLINE_MODE": "embedded",
            "EBBLINE_DATA": str(Path(data).resolve()),
            "DATABASE_URL": address,
            "DATABASE_URL_FILE": "",
            "REDIS_URL": "",
            "REDIS_URL_FILE": "",
            "EBBLINE_PLAN_ITERATIONS": os.environ.get("EBBLINE_PLAN_ITERATIONS") or ITERATIONS,
            "EBBLINE_NOTICE_TRANSPORT": "dispatch.transports.console",
            "EBBLINE_LOG_LEVEL": "ERROR",
            "EBBLINE_GEOCODER": "",
            "EBBLINE_BOARD_KEEP": "0",
            "DJANGO_SETTINGS_MODULE": str(settings.SETTINGS_MODULE),
        }


def replay_beside(arguments: list[str], *, database: str | None) -> int:
    """Run `python -m dispatch.replay` on that database; its lines go where ours go. The exit status."""
    with environment(database) as its:
        command = [sys.executable, "-m", "dispatch.replay", *arguments]
        return subprocess.run(command, cwd=settings.BASE_DIR, env=its, check=False).returncode


def is_empty() -> bool:
    """Whether nothing was ever done in this process's database; its tables may be there."""
    tables = set(connection.introspection.table_names())
    if Area._meta.db_table not in tables:
        return not tables
    return not (Area.objects.exists() or UseCaseCall.objects.exists())
