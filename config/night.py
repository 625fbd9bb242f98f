"""A night that is shown: its scenario plays in this process, whose pages go by the night's own clock."""

import os
import shutil
import sys
import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.contrib.auth.models import User
from django.db import connection
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.http import http_date
from django.views.decorators.http import require_POST, require_safe

from dispatch.demo.load import set_password
from dispatch.replay import place, scenario
from dispatch.replay.play import play
from dispatch.replay.scenario import Step
from dispatch.replay.stage import Player
from jobs.models import Area

# One night plays in a process; its pages ask for it here.
playing: dict[str, Player] = {}


def player() -> Player | None:
    """The night that plays in this process."""
    return playing.get("night")


def environment(data: Path) -> dict[str, str]:
    """The environment of the shown night: a database of its own, no messages, no workers, no boards."""
    with place.environment(str(data)) as its:
        return {
            **its,
            "EBBLINE_NIGHT": "yes",
            "EBBLINE_NOTICE_TRANSPORT": "dispatch.practice.nothing.send_nothing",
        }


def start_apart(file: Path, *, host: str, port: int, speed: int) -> None:
    """
    Become a process that shows the night, with an empty database: this one must never open it, nor it the real one.

    :raises ScenarioUnusable: if the file cannot be meant; nothing was done then.
    """
    scenario.read(file)
    data = (Path(settings.DATA_DIR) / "night").resolve()
    shutil.rmtree(data, ignore_errors=True)
    data.mkdir(mode=0o700, parents=True)
    options = ["--host", host, "--port", str(port), "--speed", str(speed), "--scenario", str(file.resolve())]
    os.execve(sys.executable, [sys.executable, sys.argv[0], "demo", "--night", *options], environment(data))


def begin(file: Path, *, speed: int, password: str) -> Player:
    """Load the company and its first step, then play the rest beside the pages, which go by the night's clock."""
    night = scenario.read(file)
    player = playing["night"] = Player(night.steps, speed=speed)
    ready = threading.Event()

    def show() -> None:
        try:
            lines = play(night)
            first = next(lines)
            set_password(User.objects.exclude(memberships=None).values_list("username", flat=True), password)
            go_by(player.now)
            ready.set()
            player.run(_with_first(first, lines))
        finally:
            ready.set()
            connection.close()

    threading.Thread(target=show, name="night", daemon=True).start()
    ready.wait()
    return player


def go_by(clock: Callable[[], datetime]) -> None:
    """Let the whole process ask this clock for the time."""
    timezone.now = clock


def _with_first(first: Any, lines: Any) -> Any:
    yield first
    yield from lines


class NightTime:
    """Middleware: the time that a browser is told is the night's, so that its own clocks go by it."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if (night := player()) is not None:
            response["Date"] = http_date(night.now().timestamp())
        return response


@require_safe
def page(request: HttpRequest) -> HttpResponse:
    """What is on, with the means to hold it and move it on."""
    return render(request, "night.html", _context())


@require_safe
def part(request: HttpRequest) -> HttpResponse:
    """The part of the page that changes."""
    return render(request, "night_part.html", _context())


@require_POST
def act(request: HttpRequest, what: str) -> HttpResponse:
    """Hold, next, faster or slower."""
    night = _night()
    acts = {"hold": night.hold, "next": night.next, "faster": night.faster, "slower": night.slower}
    if what not in acts:
        raise Http404
    acts[what]()
    if request.headers.get("HX-Request"):
        return render(request, "night_part.html", _context())
    return redirect("night")


def _night() -> Player:
    night = player()
    if night is None:
        raise Http404("No night is shown here.")
    return night


def _context() -> dict[str, Any]:
    night = _night()
    stage, zone = night.stage(), _zone()
    done = [_shown(line["step"], night.steps[line["step"]], line, zone) for line in stage.done]
    coming = [_shown(number, step, None, zone) for number, step in stage.coming]
    return {
        "stage": stage,
        "now": stage.now.astimezone(zone),
        "latest": done[:1],
        "before": done[1:],
        "coming": coming,
    }


@dataclass(frozen=True)
class Shown:
    """One step as the page shows it. `outcome` is done, refused, failed, or nothing yet."""

    number: int
    at: datetime
    who: str
    does: str
    note: str
    outcome: str
    said: str
    expected: tuple[tuple[str, str], ...]
    timers: tuple[str, ...]
    failed: tuple[str, ...]


def _shown(number: int, step: Step, line: dict[str, Any] | None, zone: ZoneInfo) -> Shown:
    does = f"look at {step.with_['page']}" if step.do == "look" else step.do
    refused = (line or {}).get("refused")
    failed = [f"{row['path'] or 'all'}: expected {row['expected']}, found {row['found']}" for row in _failed(line)]
    return Shown(
        number=number + 1,
        at=step.at.astimezone(zone),
        who=step.who,
        does=does.replace("_", " "),
        note=step.note if isinstance(step.note, str) else " ".join(step.note),
        outcome="" if line is None else "failed" if failed else "refused" if refused else "done",
        said=refused["message"] if refused else "",
        expected=tuple((path or "all of it", _short(value)) for path, value in step.expect.items()),
        timers=tuple(entry["kind"].replace("_", " ").replace(".", ": ") for entry in (line or {}).get("fired", ())),
        failed=tuple(failed),
    )


def _failed(line: dict[str, Any] | None) -> list[dict[str, Any]]:
    return line["failed"] if line else []


def _short(value: Any) -> str:
    text = str(value)
    return text if len(text) <= 80 else f"{text[:77]}..."


def _zone() -> ZoneInfo:
    area = Area.objects.order_by("pk").first()
    return area.zone if area else ZoneInfo("UTC")
