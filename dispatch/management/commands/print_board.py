"""Write tonight's board now, as the timer does every hour."""

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from dispatch.desk.night_print import write_board
from jobs.models import Area


class Command(BaseCommand):
    help = "Write tonight's board as PDF and HTML, with everything that a night without the program needs."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--area", help="the area's code; every area without it")
        parser.add_argument("--folder", type=Path, help="where to; EBBLINE_BOARD_FOLDER without it")

    def handle(self, *args: Any, area: str | None, folder: Path | None, **options: Any) -> None:
        areas = Area.objects.order_by("pk")
        chosen = areas.filter(code=area) if area else areas
        if not chosen:
            known = ", ".join(areas.values_list("code", flat=True)) or "none yet: import a company first"
            raise CommandError(f"There is no such area. Known: {known}.")
        where = folder or Path(settings.BOARD_FOLDER)
        for row in chosen:
            try:
                printed = write_board(area=row, now=timezone.now(), folder=where, keep=settings.BOARD_KEEP or 1)
            except OSError as error:
                raise CommandError(f"{where} cannot be written to: {error.strerror}.") from error
            self.stdout.write(printed.pdf)
            self.stdout.write(printed.html)
