"""`manage.py import_company FOLDER`: look over a folder of CSV files, or (with --accept) import it."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any
from uuid import uuid4

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from dispatch.imports.company import import_company, look_over
from dispatch.imports.sheets import read_folder
from jobs.people import system_user
from jobs.refusals import Refusal


class Command(BaseCommand):
    help = (
        "Look over a company's CSV files (people, cards, vehicles, equipment, payers, state rules, rota) and name "
        "every bad row. Nothing is written without --accept, and nothing at all while one row is bad."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", type=Path, help="the folder that holds people.csv, vehicles.csv and so on")
        which = parser.add_mutually_exclusive_group()
        which.add_argument("--dry-run", action="store_true", help="only look (this is what happens by itself)")
        which.add_argument("--accept", action="store_true", help="import the folder if every row is good")

    def handle(self, *args: Any, **options: Any) -> None:
        now = timezone.now()
        try:
            sheets = read_folder(options["folder"])
        except Refusal as refusal:
            raise CommandError(refusal.message, returncode=2) from refusal
        found = look_over(sheets, now=now)
        for name in found.not_read:
            self.stdout.write(f"{name} is not read: no table has this name.")
        for name, rows in found.rows.items():
            if rows:
                self.stdout.write(f"{name}.csv: {len(rows)} good rows")
        for problem in found.problems:
            self.stderr.write(str(problem))
        if found.problems:
            raise CommandError(f"To put right: {len(found.problems)}. Nothing was imported.")
        if not options["accept"]:
            self.stdout.write("Every row is good. Nothing was imported yet: run this again with --accept.")
            return
        try:
            done = import_company(key=uuid4(), actor=system_user(), now=now, sheets=sheets)
        except Refusal as refusal:
            raise CommandError(f"{refusal.message} Nothing was imported.") from refusal
        self.stdout.write(f"Imported {sum(done.rows.values())} rows.")
