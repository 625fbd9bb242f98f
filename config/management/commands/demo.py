"""`manage.py demo`: the program with an invented company in it, or one emergency call through it as a report."""

import sys
from argparse import ArgumentParser
from collections.abc import Iterable
from pathlib import Path
from typing import Any
from uuid import uuid4

from django.conf import settings
from django.contrib.auth.models import User
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone
from tqdm import tqdm

from config import night as shown
from config import serving
from dispatch.demo import load, night, one_call, report
from dispatch.planning import plan_day
from jobs.people import system_user
from jobs.refusals import Refusal

FOLDER = settings.BASE_DIR / "fixtures_demo"
# After this hour a day crew starts nothing new.
LATEST_START = "15:00"
# The company is invented and listens on this machine only; a real company sets its own passwords.
PASSWORD = "alder-switch-lane"


class Command(BaseCommand):
    help = (
        "Load the invented company, plan its day and serve the pages; or, with --no-serve, take one emergency call "
        "through sizing, reservation, ranked crews, sending and the crew's route, and print that."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--no-serve", action="store_true", help="take one call, print what became of it, and end")
        parser.add_argument(
            "--call", type=Path, metavar="FILE", help="the call to take; fixtures_demo/call.json without it"
        )
        parser.add_argument(
            "--night", action="store_true", help="show a night step by step: hold, next and faster at /night"
        )
        parser.add_argument(
            "--speed", type=int, default=60, metavar="N", help="with --night: seconds of the night in one second; 60"
        )
        parser.add_argument(
            "--scenario", type=Path, metavar="FILE", help="with --night: fixtures_demo/night.json without it"
        )
        parser.add_argument("--host", default="127.0.0.1")
        parser.add_argument("--port", type=int, default=8000)

    def handle(self, *args: Any, **options: Any) -> None:
        if options["call"] and not options["no_serve"]:
            raise CommandError("--call goes with --no-serve.")
        if options["night"]:
            self._show_night(**options)
            return
        try:
            told = one_call.read_call(options["call"] or FOLDER / "call.json") if options["no_serve"] else None
            serving.prepare()
            loaded = self._load()
            if told is not None:
                self._take(told, loaded)
                return
        except Refusal as refusal:
            where = f"{refusal.where}: " if refusal.where else ""
            said = [f"{where}{refusal.message}", *refusal.data.get("reasons", ())]
            raise CommandError("\n".join(said), returncode=2) from refusal
        with serving.runner():
            self._say_where(loaded, **options)
            serving.serve(host=options["host"], port=options["port"])

    def _show_night(self, *, host: str, port: int, speed: int, scenario: Path | None, **options: Any) -> None:
        """In a process of its own, with an empty database beside the real one."""
        file = scenario or FOLDER / "night.json"
        if speed < 1:
            raise CommandError("--speed is a whole number from 1: so many seconds of the night pass in one second.")
        try:
            if not settings.NIGHT:
                shown.start_apart(file, host=host, port=port, speed=speed)
            serving.prepare()
            self.stdout.write("Loading the company of the night; that takes a while.")
            self.stdout.flush()
            night = shown.begin(file, speed=speed, password=PASSWORD)
        except Refusal as refusal:
            raise CommandError(f"{refusal.where or file}: {refusal.message}", returncode=2) from refusal
        self.stdout.write(f"The night is shown at http://{host}:{port}/night  (Ctrl+C stops it)")
        names = sorted({step.who for step in night.steps})
        self.stdout.write(f"  sign in as one of {', '.join(names)} with {PASSWORD}")
        self.stdout.flush()
        serving.serve(host=host, port=port)

    def _load(self) -> load.Loaded:
        now = timezone.now()
        loaded = load.load(FOLDER, now=now, progress=self._bar)
        if loaded.new:
            load.set_password(loaded.sign_ins.values(), PASSWORD)
            night.send_crews(loaded.open_calls, desk=_user(loaded, "dispatcher"), key=load.DEMO, now=now)
            self._plan(loaded)
        return loaded

    def _plan(self, loaded: load.Loaded) -> None:
        """Ask for the routes of what is left of today, and of tomorrow; the runner works them out beside."""
        now, clock = loaded.clock.now, loaded.clock
        days = ["+1"] if now > clock.at("0", LATEST_START) else ["0", "+1"]
        for day in days:
            plan_day(
                key=uuid4(), actor=system_user(), now=now, area_id=loaded.area_id, day=clock.day(day), publish=True
            )

    def _bar(self, items: Iterable[Any], what: str) -> Iterable[Any]:
        return tqdm(list(items), desc=f"Loading the demo company: {what}", unit="", file=sys.stderr)

    def _take(self, told: dict[str, Any], loaded: load.Loaded) -> None:
        done = one_call.take(told, area_id=loaded.area_id, desk=_user(loaded, "dispatcher"), clock=loaded.clock)
        for line in report.lines(done):
            self.stdout.write(line)

    def _say_where(self, loaded: load.Loaded, *, host: str, port: int, **options: Any) -> None:
        self.stdout.write(f"Ebbline answers at http://{host}:{port}/  (Ctrl+C stops it)")
        for role, name in sorted(loaded.sign_ins.items()):
            self.stdout.write(f"  {role.replace('_', ' '):<12} {name:<16} {PASSWORD}")
        if loaded.new:
            self.stdout.write("The day's routes are being worked out beside; they appear within a minute.")
        self.stdout.flush()


def _user(loaded: load.Loaded, role: str) -> User:
    return User.objects.get(username=loaded.sign_ins[role])
