"""`manage.py restore FILE`: an installation as it was, audited before anybody works on it."""

import tempfile
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.files.storage import default_storage
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser

from config import backup, dumps
from equipment.audit import audit
from jobs.models import Photo
from jobs.photos.keep import path_of
from jobs.refusals import Refusal


class Command(BaseCommand):
    help = "Restore a backup into an empty installation, bring its tables to the newest shape and audit both ledgers."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--replace", action="store_true", help="throw away what is there: it cannot be got back")

    def handle(self, *args: Any, file: Path, replace: bool, **options: Any) -> None:
        if not replace and not dumps.is_empty():
            raise CommandError(
                "There is something in this database already. Nothing was changed. Restore into an empty one, or stop "
                "every process of the program and give --replace, which throws away what is there.",
                returncode=2,
            )
        try:
            with tempfile.TemporaryDirectory(prefix="ebbline-restore-", dir=settings.DATA_DIR) as name:
                made = backup.read(file, Path(name))
                photos = backup.put_back(made, Path(name))
        except Refusal as refusal:
            raise CommandError(refusal.message, returncode=2) from refusal
        call_command("migrate", interactive=False, verbosity=0)
        self.stdout.write(f"Restored the backup of {made.made_at}: database and {photos} photos.")
        self._judge()

    def _judge(self) -> None:
        kept = Photo.objects.values_list("digest", flat=True).distinct()
        lost = sum(not default_storage.exists(path_of(digest)) for digest in kept.iterator(2_000))
        found = audit()
        for difference in found:
            self.stdout.write(f"{difference.what} {difference.which}, {difference.where}: the entries say otherwise")
        if found or lost:
            raise CommandError(f"{len(found)} differences in the ledgers, {lost} photos without their file.")
        self.stdout.write("The audit of both ledgers found no difference; every photo has its file.")
