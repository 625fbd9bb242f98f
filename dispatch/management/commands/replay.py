"""`manage.py replay NIGHT.json`: run a night of steps through the use cases, on a database of its own."""

import json
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from dispatch.replay import place, scenario, schema


class Command(BaseCommand):
    help = (
        "Run a scenario's steps through the same use cases as the rooms, each at its own time, on an empty database; "
        "timers due in between fire at theirs. One JSON line a step. Exit status 0 when every expectation held, 1 when "
        "one did not, 2 when the file cannot be meant (nothing was done then)."
    )
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("night", metavar="NIGHT.json", type=Path, nargs="?", help="the scenario")
        parser.add_argument(
            "--database", help="a folder (SQLite) or postgres://... that is empty; by itself a folder that is dropped"
        )
        parser.add_argument("--resume", action="store_true", help="go on with a replay that was stopped in --database")
        parser.add_argument("--schema", action="store_true", help="print the JSON Schema of a scenario and stop")

        parser.add_argument("--tables", action="store_true", help="print the tables of verbs and pages and stop")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["schema"]:
            self.stdout.write(json.dumps(schema.of_scenario(), indent=1))
            return
        if options["tables"]:
            self.stdout.write("\n".join([*schema.verb_rows(), "", *schema.page_rows()]))
            return
        try:
            if options["night"] is None:
                raise scenario.ScenarioUnusable("Name a scenario's file, or ask for --schema.", where="arguments")
            scenario.read(options["night"])
        except scenario.ScenarioUnusable as refusal:
            self.stderr.write(json.dumps(refusal.as_document()))
            sys.exit(2)
        again = ["--resume"] if options["resume"] else []
        sys.exit(place.replay_beside([str(options["night"].resolve()), *again], database=options["database"]))
