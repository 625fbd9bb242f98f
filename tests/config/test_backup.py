"""A backup is what can be restored: the same rows and photos in an empty installation, and a clean audit."""

import os
import sqlite3
import subprocess
import sys
import tarfile
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any
from uuid import uuid4

import psycopg
import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from config import dumps
from equipment import custody, reservations
from jobs.photos import keep
from tests import servers
from tests.equipment import cast as casting
from tests.equipment.cast import DAY, HOUR, NIGHT

ROOT = Path(__file__).resolve().parents[2]
DIGEST = "ab" * 32
ROWS = (
    "SELECT key, seal FROM equipment_move ORDER BY id",
    "SELECT state, quantity, seal FROM equipment_reservation ORDER BY id",
    "SELECT digest FROM jobs_photo ORDER BY id",
    "SELECT username FROM auth_user ORDER BY id",
)


@pytest.fixture
def worked(transactional_db: None, settings: Any, tmp_path: Path) -> casting.Cast:
    """A night's work with one photo, committed, so that a copy can be made of it."""
    settings.MEDIA_ROOT = tmp_path / "here" / "media"
    settings.PG_BIN = _programs()
    made = casting.make()
    made.units("0001", "0002")
    job = made.job()
    reservations.hold(
        **made.by(made.dispatcher),
        job_id=job.pk,
        wanted=((made.pool().pk, 1),),
        starts_at=NIGHT,
        ends_at=NIGHT + 2 * DAY,
        keep_for=HOUR,
        leads_reason="wet hall",
    )
    custody.scan_out(**made.by(made.keeper), numbers=("1",), vehicle_id=made.van.pk, job_id=job.pk)
    path = settings.MEDIA_ROOT / keep.path_of(DIGEST)
    path.parent.mkdir(parents=True)
    path.write_bytes(b"a wet wall")
    keep.keep_photo(**made.by(made.dispatcher), job_id=job.pk, digest=DIGEST, width=4, height=3)
    return made


def _programs() -> str:
    """The client programs beside the server that the tests start; nothing on SQLite."""
    if connection.vendor == "sqlite":
        return ""
    return next(str(p.parent) for _, p in servers._postgres_places() if p and p.with_name("pg_restore").exists())


@pytest.fixture
def elsewhere(tmp_path: Path) -> Iterator[dict[str, str]]:
    """The environment of another installation, with nothing in it."""
    kept = {name: value for name, value in os.environ.items() if name not in {"DATABASE_URL", "REDIS_URL"}}
    given = {**kept, "EBBLINE_DATA": str(tmp_path / "there"), "EBBLINE_PG_BIN": _programs()}
    if connection.vendor == "sqlite":
        yield given
        return
    name, here = f"restored_{uuid4().hex[:8]}", connection.settings_dict
    with connection.cursor() as cursor:
        cursor.execute(f'CREATE DATABASE "{name}"')
    yield {**given, "DATABASE_URL": f"postgres://{here['USER']}@{here['HOST']}:{here['PORT']}/{name}"}
    with connection.cursor() as cursor:
        cursor.execute(f'DROP DATABASE "{name}" WITH (FORCE)')


def _rows(ask: Callable[[str], Any]) -> list[list[tuple[str, ...]]]:
    return [[tuple(map(str, row)) for row in ask(question).fetchall()] for question in ROWS]


def _asked_here(question: str) -> Any:
    cursor = connection.cursor()
    cursor.execute(question)
    return cursor


def _restored(environment: dict[str, str]) -> list[list[tuple[str, ...]]]:
    if address := environment.get("DATABASE_URL"):
        with psycopg.connect(address) as there:
            return _rows(there.execute)
    with closing(sqlite3.connect(Path(environment["EBBLINE_DATA"]) / "ebbline.sqlite3")) as kept:
        return _rows(kept.execute)


def _manage(environment: dict[str, str], *arguments: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "manage.py", *arguments]
    return subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=False)


def test_restored_elsewhere_it_is_the_same_and_the_audit_is_clean(
    worked: casting.Cast, elsewhere: dict[str, str], tmp_path: Path
) -> None:
    file = tmp_path / "night.tar"
    call_command("backup", str(file))
    before = _rows(_asked_here)

    done = _manage(elsewhere, "restore", str(file))

    assert done.returncode == 0, done.stderr
    assert "database and 1 photos" in done.stdout
    assert "no difference; every photo has its file" in done.stdout
    assert _restored(elsewhere) == before
    assert [len(rows) for rows in before] == [3, 1, 1, 4]
    assert (tmp_path / "there" / "media" / keep.path_of(DIGEST)).read_bytes() == b"a wet wall"
    assert file.stat().st_mode & 0o077 == 0


def test_what_cannot_be_backed_up_or_restored_is_refused(worked: casting.Cast, tmp_path: Path, settings: Any) -> None:
    file = tmp_path / "night.tar"
    call_command("backup", str(file))
    with pytest.raises(CommandError, match="never replaces another"):
        call_command("backup", str(file))
    with pytest.raises(CommandError, match="something in this database already"):
        call_command("restore", str(file))

    folder = tmp_path / "changed"
    with tarfile.open(file) as tar:
        tar.extractall(folder, filter="data")
    for change, said in (
        (lambda: (folder / "media" / keep.path_of(DIGEST)).write_bytes(b"a dry wall"), "was damaged: media/photos"),
        (lambda: (folder / "media" / keep.path_of(DIGEST)).unlink(), "is not whole: media/photos"),
        (lambda: (folder / "manifest.json").unlink(), "cannot be read as a backup"),
    ):
        change()
        changed = tmp_path / f"{uuid4()}.tar"
        with tarfile.open(changed, "w") as tar:
            for path in folder.rglob("*"):
                if path.is_file():
                    tar.add(path, path.relative_to(folder).as_posix())
        settings.DATA_DIR = tmp_path
        with pytest.raises(CommandError, match=said):
            call_command("restore", str(changed), replace=True)


def test_a_missing_program_is_named_with_what_to_install(settings: Any, tmp_path: Path) -> None:
    settings.PG_BIN = str(tmp_path)
    with pytest.raises(dumps.ToolMissing, match="apt-get install postgresql-client"):
        dumps.program("pg_dump")
