"""`manage.py rehearse`: a month or a storm of the company, by rule and fleet, as a report."""

import json
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand

from dispatch.rehearsal import report, results
from dispatch.rehearsal.place import RehearsalBroke, rehearse_beside
from dispatch.rehearsal.setting import SettingUnusable


class Command(BaseCommand):
    help = (
        "Rehearse ordinary days or a storm: callers by hour and season, crews, machines and drying, all drawn from a "
        "seed. Compares rules of sending (ours, nearest, first-come; program goes through every use case, slowly) and "
        "fleets, and writes report.html, result.json and runs.csv. The same arguments give the same bytes. Exit status "
        "0, or 2 when nothing was rehearsed."
    )
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--days", type=int, help="measured days; 30, or as long as the storm, without it")
        parser.add_argument("--surge", nargs="?", const="freeze", metavar="EVENT", help="a storm: freeze or flood")
        parser.add_argument("--seed", type=int, default=1)
        parser.add_argument("--seeds", help="several, such as 1,2,3: each is a run of its own")
        parser.add_argument("--rule", default="ours,nearest,first-come", help="the rules to compare")
        parser.add_argument("--fleet", default="as it is", help="fleets of the company's rehearsal.toml, or all")
        parser.add_argument("--from", dest="start", help="the first day, YYYY-MM-DD; its season counts")
        parser.add_argument("--company", type=Path, default=settings.BASE_DIR / "fixtures_demo", help="a folder of CSV")
        parser.add_argument("--iterations", type=int, default=300, help="how long a plan may search")
        parser.add_argument("--out", type=Path, default=Path("rehearsal"), help="folder of the report")
        parser.add_argument("--quiet", action="store_true", help="no progress bar")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            asked = results.asked_of(
                company=options["company"].resolve(),
                start=options["start"],
                days=options["days"],
                storm=options["surge"],
                seeds=options["seeds"] or str(options["seed"]),
                rules=options["rule"],
                fleets=options["fleet"],
                iterations=options["iterations"],
            )
        except SettingUnusable as refusal:
            where = refusal.where or ""
            self.stderr.write(json.dumps({"code": refusal.code, "where": where, "message": refusal.message}))
            sys.exit(2)
        try:
            runs = [run for part in asked.parts() for run in rehearse_beside({**part, "quiet": options["quiet"]})]
        except RehearsalBroke as broke:
            # A refusal was told by the process itself, as the one object on standard error.
            if broke.status == 2:
                sys.exit(2)
            self.stderr.write(str(broke))
            sys.exit(1)
        result = results.result_of(asked, runs)
        out: Path = options["out"]
        out.mkdir(parents=True, exist_ok=True)
        (out / "result.json").write_text(json.dumps(result, indent=1, sort_keys=True) + "\n", encoding="utf-8")
        (out / "runs.csv").write_text(report.as_csv(result), encoding="utf-8")
        (out / "report.html").write_text(report.as_html(result), encoding="utf-8")
        self.stdout.write("\n".join(report.as_lines(result)))
        self.stdout.write(f"{out / 'report.html'}")
