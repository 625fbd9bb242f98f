"""A backup of PostgreSQL is what can be restored: all destroyed, every row and photo is back, and it works on."""

import shutil
from pathlib import Path
from typing import Any

import psycopg
import pytest

from tests import servers
from tests.faults.installation import Installation
from tests.faults.work import Work

pytestmark = pytest.mark.long
# What a restore itself writes, or what only says who is signed in where.
NOT_COMPARED = frozenset({"django_session"})


def _everything(installation: Installation) -> dict[str, tuple[int, str]]:
    """Number of rows of each table, and a digest over all of them."""
    tables = [name for (name,) in installation.sql("SELECT tablename FROM pg_tables WHERE schemaname = 'public'")]
    digest = "SELECT count(*), coalesce(md5(string_agg(t::text, chr(10) ORDER BY t::text)), '') FROM {} t"
    return {
        name: (int(row[0]), str(row[1]))
        for name in sorted(set(tables) - NOT_COMPARED)
        for row in installation.sql(digest.format(name))
    }


def test_backed_up_destroyed_and_restored_every_row_and_photo_is_back(
    installation: Installation, work: Work, database_server: servers.Server, tmp_path: Path
) -> None:
    programs = next(p.parent for _, p in servers._postgres_places() if p and p.with_name("pg_restore").exists())
    installation.environment["EBBLINE_PG_BIN"] = str(programs)
    photo: dict[str, Any] = installation.tell("photo")
    file = tmp_path / "night.tar"
    installation.manage("backup", str(file))
    before = _everything(installation)
    assert sum(count for count, _ in before.values()) > 1_000
    assert before["jobs_photo"][0] == 1

    shutil.rmtree(installation.folder / "data")
    name = installation.database.rpartition("/")[2]
    with psycopg.connect(database_server.address, autocommit=True) as asked:
        asked.execute(f'DROP DATABASE "{name}" WITH (FORCE)'.encode())
        asked.execute(f'CREATE DATABASE "{name}"'.encode())

    said = installation.manage("restore", str(file))

    assert "database and 1 photos" in said
    assert "no difference; every photo has its file" in said
    assert _everything(installation) == before
    assert (installation.folder / "data" / "media" / photo["path"]).read_bytes() == photo["content"].encode()
    installation.start("web")
    work(("call", "hold", "scan"))
    work.is_there_once()
