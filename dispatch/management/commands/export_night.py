"""`manage.py export_night`: a stored night of this installation as a scenario that `manage.py replay` runs."""

import json
from argparse import ArgumentParser
from datetime import datetime
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from dispatch.imports.sheets import read_folder
from dispatch.replay.exporting import export_night
from jobs.refusals import Refusal


class Command(BaseCommand):
    help = (
        "Write what was done between two times as a scenario, with the company and everything that was done before, on "
        "which it stands; what was returned or refused becomes what is expected. Timers are no steps: they fire again "
        "at their own times. No private facts leave: names, user names, phone numbers, streets, e-mail addresses, "
        "claim numbers, access codes and care needs are replaced by invented ones (the same for the same), free text "
        "by '(words left out)', signatures by typed names, places on the map by ones rounded to two decimals (about "
        "half a mile). Photos and sign-ins of programs are left out. Towns, ZIP codes, payers, dates, rooms and "
        "readings stay. What was done by hand in the master data pages is not in the record and not in the file."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        time = "ISO 8601 with its zone, as 2026-01-15T22:00:00-08:00"
        parser.add_argument("--from", dest="since", type=_time, help=f"expectations begin here; {time}; the first call")
        parser.add_argument("--to", dest="until", type=_time, help="the end, not included; now without it")
        parser.add_argument("--out", type=Path, required=True, metavar="FILE", help="the scenario to write")

        parser.add_argument(
            "--company", type=Path, metavar="FOLDER", help="the company's CSV files, if their import was erased by now"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        out: Path = options["out"]
        if options["since"] and options["until"] and options["since"] >= options["until"]:
            raise CommandError("--from must be before --to.", returncode=2)
        if out.exists():
            raise CommandError(f"{out} is there already. Name another file.", returncode=2)
        try:
            company = read_folder(options["company"]) if options["company"] else ()
            until = options["until"] or timezone.now()
            found = export_night(since=options["since"], until=until, company=company)
        except Refusal as refusal:
            raise CommandError(refusal.message, returncode=2) from refusal
        text = json.dumps(found.scenario, ensure_ascii=False, indent=1)
        try:
            out.write_text(text + "\n", encoding="utf-8")
        except OSError as error:
            raise CommandError(f"{out} cannot be written ({error.strerror}).", returncode=2) from error
        steps = found.scenario["steps"]
        expecting = sum(1 for step in steps if step.get("expect"))
        self.stdout.write(f"{out}: {len(steps)} steps, {expecting} with expectations. Check it: manage.py replay {out}")
        for verb, count in sorted(found.left_out.items()):
            self.stdout.write(f"  left out: {verb}, {count} times: its words were erased on schedule, or it is no step")


def _time(text: str) -> datetime:
    found = datetime.fromisoformat(text)
    if found.tzinfo is None:
        raise ValueError("a time needs its zone")
    return found
