"""
Backup and restore: one tar file with the database, the photos, and a manifest of checksums.

The database is copied while people work: SQLite by its own backup interface, PostgreSQL by pg_dump, both as of one
moment. Photos are files named by their content and never changed, and a row names one only after it is written, so that
photos copied after the database are all that its rows name. Secrets are not in it: they are kept apart.
"""

import hashlib
import json
import os
import shutil
import tarfile
import tempfile
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path

from django.conf import settings
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder

from config import dumps
from jobs.refusals import Refusal

FORMAT = 1
MANIFEST = "manifest.json"
DATABASE = "database"
MEDIA = "media"


class BackupUnusable(Refusal):
    """The file is no backup that this installation can be restored from."""

    code = "backup_unusable"


@dataclass(frozen=True)
class Manifest:
    """What the file holds: SHA-256 and bytes of each part by name, and how far the tables had been brought."""

    format: int
    made_at: str
    vendor: str
    migrations: tuple[str, ...]
    parts: dict[str, tuple[str, int]]


def write(file: Path, *, now: datetime) -> Manifest:
    """
    Write a backup; the file appears under its name only when it is whole, readable by its owner alone.

    :raises BackupUnusable: if the file is there already.
    :raises dumps.ToolMissing: if PostgreSQL's own programs are not installed.
    """
    if file.exists():
        raise BackupUnusable(f"{file} is there already. Choose another name: a backup never replaces another.")
    unfinished = file.with_name(f"{file.name}.unfinished")
    parts: dict[str, tuple[str, int]] = {}
    with tempfile.TemporaryDirectory(prefix="ebbline-backup-", dir=file.parent) as name:
        folder = Path(name)
        dumps.dump(folder / DATABASE)
        migrations = _applied()
        with open(unfinished, "xb", opener=_private) as out, tarfile.open(fileobj=out, mode="w") as tar:
            for path, member in [(folder / DATABASE, DATABASE), *_photos()]:
                parts[member] = _checksum(path)
                tar.add(path, member)
            made = Manifest(FORMAT, now.isoformat(), connection.vendor, migrations, parts)
            (folder / MANIFEST).write_text(json.dumps(asdict(made), indent=1), encoding="utf-8")
            tar.add(folder / MANIFEST, MANIFEST)
            out.flush()
            os.fsync(out.fileno())
    unfinished.rename(file)
    return made


def read(file: Path, folder: Path) -> Manifest:
    """
    Unpack a backup into a folder and check every part against the manifest.

    :raises BackupUnusable: if anything is missing, more, changed, of another database or from a newer program.
    """
    try:
        with tarfile.open(file, mode="r:") as tar:
            tar.extractall(folder, filter="data")
        said = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
        made = Manifest(**{**said, "parts": {name: tuple(part) for name, part in said["parts"].items()}})
    except (OSError, tarfile.TarError, ValueError, TypeError, KeyError) as error:
        raise BackupUnusable(f"{file} cannot be read as a backup ({error}). Take another copy of it.") from error
    if made.format != FORMAT:
        raise BackupUnusable(f"{file} has format {made.format}; this program reads format {FORMAT}.")
    there = {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()} - {MANIFEST}
    if wrong := sorted(there ^ made.parts.keys()):
        raise BackupUnusable(f"{file} is not whole: {wrong[0]} is missing, or more than it lists. Take another copy.")
    for member, part in made.parts.items():
        if _checksum(folder / member) != tuple(part):
            raise BackupUnusable(f"{file} was damaged: {member} is not what was backed up. Take another copy.")
    _check_fits(made)
    return made


def put_back(made: Manifest, folder: Path) -> int:
    """Make this installation what the unpacked backup holds; how many photos came with it."""
    dumps.load(folder / DATABASE)
    photos = sorted(member for member in made.parts if member != DATABASE)
    for member in photos:
        to = settings.MEDIA_ROOT / Path(member).relative_to(MEDIA)
        to.parent.mkdir(parents=True, exist_ok=True)
        # Named by its content: what is there under this name is the same picture.
        if not to.exists():
            shutil.move(folder / member, to)
    return len(photos)


def _check_fits(made: Manifest) -> None:
    if made.vendor != connection.vendor:
        raise BackupUnusable(
            f"This backup is of {made.vendor}, the database here is {connection.vendor}. Restore it where DATABASE_URL "
            f"selects {made.vendor}."
        )
    known = set(_on_disk())
    if newer := sorted(set(made.migrations) - known):
        raise BackupUnusable(
            f"This backup was made by a newer program: {newer[0]} is not known here. Install that version first."
        )


def _applied() -> tuple[str, ...]:
    return tuple(sorted(f"{app}.{name}" for app, name in MigrationRecorder(connection).applied_migrations()))


def _on_disk() -> Iterator[str]:
    from django.db.migrations.loader import MigrationLoader

    for app, name in MigrationLoader(None, ignore_no_migrations=True).disk_migrations:
        yield f"{app}.{name}"


def _photos() -> Iterator[tuple[Path, str]]:
    root = Path(settings.MEDIA_ROOT)
    for path in sorted(root.rglob("*")):
        if path.is_file():
            yield path, f"{MEDIA}/{path.relative_to(root).as_posix()}"


def _checksum(path: Path) -> tuple[str, int]:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest(), path.stat().st_size


def _private(path: str, flags: int) -> int:
    return os.open(path, flags, 0o600)
