"""`manage.py backup FILE`: everything that an installation needs to stand again, but its secrets."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from config import backup
from jobs.refusals import Refusal


class Command(BaseCommand):
    help = "Write database, photos and checksums to one file, while people work."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)

    def handle(self, *args: Any, file: Path, **options: Any) -> None:
        if not file.absolute().parent.is_dir():
            raise CommandError(f"{file.absolute().parent} is no folder. Make it first.", returncode=2)
        try:
            made = backup.write(file.absolute(), now=timezone.now())
        except Refusal as refusal:
            raise CommandError(refusal.message, returncode=2) from refusal
        size = sum(part[1] for part in made.parts.values())
        self.stdout.write(f"{file}: {made.vendor} database and {len(made.parts) - 1} photos, {size:,} bytes.")
