"""Tonight's board as files in a folder, every hour by a timer; a printer or another machine takes them from there."""

import os
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.staticfiles import finders
from django.db import transaction
from django.template.loader import render_to_string
from django.utils import timezone

from dispatch.desk.night_pages import NightBoard, night_board
from dispatch.desk.night_paper import night_pdf
from equipment import alarms
from jobs import due_work
from jobs.models import Area
from jobs.people import system_user

HOURLY = "dispatch.hourly_board"
# The newest board under a name that a printer's script or a shortcut can rely on.
NEWEST = "board"


@dataclass(frozen=True)
class Printed:
    """The files of one board."""

    pdf: str
    html: str


def write_board(*, area: Area, now: datetime, folder: Path, keep: int) -> Printed:
    """
    Write the area's board as PDF and HTML into its folder, and remove all but the newest `keep` of them.

    Files appear whole or not at all, readable by their owner alone: they hold phone numbers.

    :raises OSError: if the folder cannot be written to.
    """
    board = night_board(area=area, now=now)
    paper = night_pdf(board)
    place = folder / area.code
    place.mkdir(mode=0o700, parents=True, exist_ok=True)
    stem = Path(paper.file_name).stem
    html = _html(board).encode()
    _put(place / f"{NEWEST}.css", _style())
    for name in (stem, NEWEST):
        _put(place / f"{name}.pdf", paper.pdf)
        _put(place / f"{name}.html", html)
    for kind in ("pdf", "html"):
        for old in sorted(place.glob(f"board-*.{kind}"))[: -max(1, keep)]:
            old.unlink(missing_ok=True)
    return Printed(str(place / f"{stem}.pdf"), str(place / f"{stem}.html"))


def hourly_board(*, now: datetime, work_id: int, area_id: int) -> dict[str, Any]:
    """Handler: write the board, and be there again at the next full hour. What prevents it becomes an alarm."""
    area = Area.objects.get(pk=area_id)
    keep_hours(now=now, area=area)
    try:
        printed = write_board(area=area, now=now, folder=Path(settings.BOARD_FOLDER), keep=settings.BOARD_KEEP)
    except OSError as error:
        text = f"The hourly board could not be written: {error.strerror}. Print it by hand until the folder is mended."
        with transaction.atomic():
            alarms.raise_alarm(kind="board", text=text, area_id=area.pk, actor=system_user(), now=now)
        return {"failed": str(error)}
    return {"pdf": printed.pdf}


def keep_hours(*, now: datetime, area: Area) -> None:
    """See to it that the next full hour's board stands in the rows."""
    hour = now.replace(minute=0, second=0, microsecond=0) + timedelta(hours=1)
    due_work.enqueue(kind=HOURLY, arguments={"area_id": area.pk}, due_at=hour, now=now, coalesce=f"{HOURLY}:{area.pk}")


def keep_all(*, now: datetime) -> None:
    """Standing work: the next board of every area that has crews, unless the setting says that none is wanted."""
    if settings.BOARD_KEEP:
        for area in Area.objects.filter(crews__isnull=False).distinct():
            keep_hours(now=now, area=area)


def register() -> None:
    """Let due work write the board by the clock."""
    due_work.register(HOURLY, hourly_board)
    due_work.register_standing(keep_all)


def _html(board: NightBoard) -> str:
    with timezone.override(board.zone):
        return render_to_string("dispatch/desk/night_file.html", {"page": board})


def _style() -> bytes:
    """The pages' own style, so that the file looks like them without the program."""
    found = finders.find("ebbline.css")
    if not isinstance(found, str):
        raise FileNotFoundError("ebbline.css is not among the static files")
    return Path(found).read_bytes()


def _put(path: Path, content: bytes) -> None:
    part = path.with_name(f".{path.name}.{os.getpid()}")
    part.touch(mode=0o600)
    part.write_bytes(content)
    part.replace(path)
