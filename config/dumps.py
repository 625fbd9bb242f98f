"""The database into one file and back, by each database's own means."""

import os
import shutil
import sqlite3
import subprocess
from contextlib import closing
from pathlib import Path
from typing import Any

from django.apps import apps
from django.conf import settings
from django.db import connection

from jobs.refusals import Refusal

DEBIAN = Path("/usr/lib/postgresql")
# What every new database has by itself.
NOT_DATA = frozenset({"contenttypes", "auth.permission", "admin.logentry", "sessions"})


class ToolMissing(Refusal):
    """A program of PostgreSQL that is needed is not installed."""

    code = "tool_missing"


class DumpFailed(Refusal):
    """The database's own program could not write or read the copy; it says why."""

    code = "dump_failed"


def dump(file: Path) -> None:
    """
    Copy the database as of one moment into a file, while others write.

    :raises ToolMissing: if pg_dump is not installed.
    :raises DumpFailed: if it did not succeed.
    """
    if connection.vendor == "sqlite":
        with closing(_plain_connection()) as here, closing(sqlite3.connect(file)) as there:
            here.backup(there)
            # One file, without the journal beside it.
            there.execute("PRAGMA journal_mode=DELETE")
        return
    _run("pg_dump", "--format=custom", "--no-owner", "--no-privileges", f"--file={file}")


def load(file: Path) -> None:
    """
    Make the database what the file holds; what was in it before is gone.

    :raises ToolMissing: if pg_restore is not installed.
    :raises DumpFailed: if it did not succeed.
    """
    if connection.vendor == "sqlite":
        connection.close()
        with closing(sqlite3.connect(file)) as here, closing(_plain_connection()) as there:
            here.backup(there)
        return
    program("pg_restore")
    with connection.cursor() as cursor:
        cursor.execute("DROP SCHEMA public CASCADE")
        cursor.execute("CREATE SCHEMA public")
    connection.close()
    whole = ("--exit-on-error", "--single-transaction")
    _run("pg_restore", "--no-owner", "--no-privileges", *whole, f"--dbname={_name()}", str(file))


def is_empty() -> bool:
    """Whether the database holds nothing of anybody: no tables, or only what a new one has by itself."""
    tables = set(connection.introspection.table_names())
    for model in apps.get_models():
        label = model._meta.label_lower
        if label in NOT_DATA or model._meta.app_label in NOT_DATA or model._meta.db_table not in tables:
            continue
        if model._base_manager.exists():
            return False
    return True


def program(name: str) -> Path:
    """
    A program of PostgreSQL: in EBBLINE_PG_BIN, on PATH, or Debian's newest.

    :raises ToolMissing: if it is in none of them.
    """
    if settings.PG_BIN:
        places = [Path(settings.PG_BIN) / name]
    else:
        on_path = shutil.which(name)
        debian = sorted(DEBIAN.glob(f"*/bin/{name}"), key=lambda path: int(path.parts[-3]), reverse=True)
        places = [*([Path(on_path)] if on_path else []), *debian]
    for place in places:
        if os.access(place, os.X_OK):
            return place
    where = settings.PG_BIN or "PATH or /usr/lib/postgresql"
    raise ToolMissing(
        f"{name} is not in {where}. Install PostgreSQL's client programs (apt-get install postgresql-client), of the "
        "server's version or newer, or set EBBLINE_PG_BIN to their folder."
    )


def _run(name: str, *arguments: str) -> None:
    database: dict[str, Any] = connection.settings_dict
    environment = {
        "PATH": os.environ.get("PATH", ""),
        "PGHOST": str(database["HOST"] or ""),
        "PGPORT": str(database["PORT"] or ""),
        "PGUSER": str(database["USER"] or ""),
        # In the environment, not among the arguments, which everybody on the machine can read.
        "PGPASSWORD": str(database["PASSWORD"] or ""),
        "PGDATABASE": _name(),
    }
    given = {key: value for key, value in environment.items() if value}
    done = subprocess.run([program(name), *arguments], env=given, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        raise DumpFailed(f"{name} did not succeed: {done.stderr.strip()[-500:]}")


def _name() -> str:
    return str(connection.settings_dict["NAME"])


def _plain_connection() -> sqlite3.Connection:
    return sqlite3.connect(_name(), timeout=20)
