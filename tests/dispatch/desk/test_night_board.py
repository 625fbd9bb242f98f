"""The board for a night without the program: what it holds and does not, its files every hour, its command."""

from datetime import timedelta
from io import StringIO
from pathlib import Path
from typing import Any

import time_machine
from django.core.management import call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from dispatch import emergencies
from dispatch.desk import night_print
from dispatch.desk.night_pages import night_board
from equipment.models import Alarm
from jobs import due_work
from jobs.models import Contact, PrivateFacts
from tests.dispatch.night import NIGHT, Night

HOUR = timedelta(hours=1)
QUERIES = 20


def send(night: Night) -> emergencies.Sent:
    return emergencies.send(**night.by(night.dispatcher), call_id=night.call(), crew_id=night.ready.pk)


def test_it_holds_what_the_night_needs_and_no_private_fact(night: Night, client: Client) -> None:
    done = send(night)
    PrivateFacts.objects.update_or_create(job_id=done.job_id, defaults={"access": "gate 4471", "care": "oxygen"})
    Contact.objects.create(job_id=done.job_id, role="owner", name="Ossie Tarn", phone="5035550123", lets_in=True)
    with CaptureQueriesContext(connection) as few:
        night_board(area=night.cast.area, now=NIGHT)
    night.call(street="7 Sorrel Way")
    send(night)
    with CaptureQueriesContext(connection) as many:
        board = night_board(area=night.cast.area, now=NIGHT)
    assert len(few) == len(many) == QUERIES
    assert [(line.name, line.phone) for line in board.ladder] == [
        (who, "360-555-0101") for who in ("Ada", "Ben", "Cas")
    ]
    assert {crew.name: crew.people for crew in board.crews}["N1"] == (("Ada", "360-555-0101"),)
    job = next(job for job in board.jobs if job.number == done.job_number)
    assert "5230 Teasel Field Court" in job.address
    assert (job.contact, job.phone) == ("Ossie Tarn (owner)", "5035550123")
    assert job.promised
    assert [call.phone for call in board.callers] == ["360-555-0199"]
    assert sum(line.total for line in board.free) > 0
    client.force_login(night.dispatcher)
    with time_machine.travel(NIGHT, tick=False):
        page = client.get("/desk/tonight").content.decode()
        told = client.get(f"/api/v1/areas/{night.cast.area.code}/tonight").content.decode()
        assert client.get("/desk/tonight.pdf").content.startswith(b"%PDF")
    for text in (page, told):
        assert "Ossie Tarn" in text
        assert "4471" not in text
        assert "oxygen" not in text


def test_every_hour_it_is_written_and_only_the_newest_are_kept(night: Night, tmp_path: Path, settings: Any) -> None:
    settings.BOARD_FOLDER, settings.BOARD_KEEP = str(tmp_path), 2
    night_print.keep_all(now=NIGHT)
    clock = NIGHT
    for _ in range(4):
        clock += HOUR
        assert due_work.run_due(clock=lambda at=clock: at) >= 1  # type: ignore[misc]
    folder = tmp_path / night.cast.area.code
    assert sorted(path.name for path in folder.iterdir()) == [
        "board-2026-01-16-0147.html",
        "board-2026-01-16-0147.pdf",
        "board-2026-01-16-0247.html",
        "board-2026-01-16-0247.pdf",
        "board.css",
        "board.html",
        "board.pdf",
    ]
    assert (folder / "board.pdf").read_bytes() == (folder / "board-2026-01-16-0247.pdf").read_bytes()
    assert (folder / "board.pdf").stat().st_mode & 0o077 == 0
    assert "360-555-0101" in (folder / "board.html").read_text()

    (tmp_path / "file").write_text("in the way")
    settings.BOARD_FOLDER = str(tmp_path / "file")
    due_work.run_due(clock=lambda: clock + HOUR)
    assert "could not be written" in Alarm.objects.get(kind="board").text
    settings.BOARD_FOLDER = str(tmp_path)
    due_work.run_due(clock=lambda: clock + 2 * HOUR)
    assert (folder / "board-2026-01-16-0447.pdf").exists()


def test_it_can_be_printed_now_and_the_timer_can_be_off(night: Night, tmp_path: Path) -> None:
    out = StringIO()
    call_command("print_board", folder=tmp_path, stdout=out)
    assert all(Path(line).exists() for line in out.getvalue().split())
    night_print.keep_all(now=NIGHT)
    assert due_work.run_due(clock=lambda: NIGHT + HOUR) == 0
