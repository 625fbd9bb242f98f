"""A ladder of pages with real workers and a real Redis, which is killed and started again between and in its steps."""

import contextlib
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.utils import timezone

from dispatch.emergencies import send
from dispatch.models import CallOut, Notice
from jobs.models import Contact, DueWork
from jobs.people import system_user
from tests import servers
from tests.architecture.order import ROOT
from tests.dispatch import night as nights

pytestmark = [pytest.mark.long, pytest.mark.django_db(transaction=True)]
WITHIN_S = 90
LADDER = ("dispatch.escalate_call_out", "dispatch.page_again", "dispatch.tell_who_waits")


class Redis:
    """A Redis on one port, which is killed without warning and comes back empty."""

    def __init__(self, program: Path, port: int) -> None:
        self.command = [program, "--bind", "127.0.0.1", "--port", str(port), "--save", "", "--appendonly", "no"]
        self.address = f"redis://127.0.0.1:{port}/0"
        self.start()

    def start(self) -> None:
        self.process = subprocess.Popen(self.command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL)

    def kill(self) -> None:
        self.process.kill()
        self.process.wait()


@pytest.fixture
def redis(redis_server: servers.Server) -> Iterator[Redis]:
    running = Redis(redis_server.program, servers._free_port())
    yield running
    running.kill()


@pytest.fixture
def workers(redis: Redis, child_environment: dict[str, str], tmp_path: Path) -> Iterator[None]:
    """A worker with its beat. A broker that dies in mid-task may end it; its service starts it again, as here."""
    command = [sys.executable, "-m", "celery", "-A", "config", "worker", "-B", "--schedule", str(tmp_path / "beat")]
    over, running = threading.Event(), []

    def keep_running() -> None:
        while not over.is_set():
            with (tmp_path / "log").open("ab") as log:
                process = subprocess.Popen(
                    [*command, "-Q", "quick,plan,celery", "-c", "2"],
                    cwd=ROOT,
                    env={**child_environment, "REDIS_URL": redis.address},
                    stdin=subprocess.DEVNULL,
                    stdout=log,
                    stderr=log,
                    start_new_session=True,
                )
            running.append(process)
            process.wait()

    thread = threading.Thread(target=keep_running)
    thread.start()
    yield
    over.set()
    with contextlib.suppress(ProcessLookupError):
        os.killpg(running[-1].pid, signal.SIGKILL)
    thread.join()


def until(true: Callable[[], Any], why: str) -> None:
    end = time.monotonic() + WITHIN_S
    while not true():
        assert time.monotonic() < end, why
        time.sleep(0.1)


def next_is_due() -> DueWork:
    """Bring what the ladder does next forward to now, as if its minutes had passed."""
    row = DueWork.objects.filter(state="pending", kind__in=LADDER).order_by("due_at", "pk").first()
    assert row is not None, "the ladder has stopped"
    now = timezone.now()
    DueWork.objects.filter(state="pending", kind__in=LADDER).exclude(pk=row.pk).update(due_at=now + timedelta(hours=1))
    DueWork.objects.filter(pk=row.pk).update(due_at=now)
    return row


def test_nobody_is_asked_twice_and_no_step_is_lost(redis: Redis, workers: None) -> None:
    system_user()
    night = nights.night()
    nights.move_to(night, timezone.now())
    nights.person(night.cast, "Mo", night.cast.manager)
    sent = send(**night.by(night.dispatcher, timezone.now()), call_id=night.call(), crew_id=night.ready.pk)
    Contact.objects.filter(job_id=sent.job_id).update(phone="360-555-0199")
    call_out = CallOut.objects.get()
    for number in range(40):
        if CallOut.objects.get().state != CallOut.State.ASKING:
            break
        # Dead before the step falls due, dead while it does, or well: in turn.
        if number % 3 == 0:
            redis.kill()
        row = next_is_due()
        if number % 3 == 1:
            time.sleep(0.3)
            redis.kill()
        if number % 3 != 2:
            time.sleep(1)
            redis.start()
        until(lambda: DueWork.objects.get(pk=row.pk).state not in ("pending", "running"), f"{row} was not done")  # noqa: B023
        assert DueWork.objects.get(pk=row.pk).state == "done"
    until(lambda: not Notice.objects.filter(state="waiting").exists(), "a message was not sent")
    steps = list(call_out.steps.select_related("person").order_by("number"))
    assert [(step.number, step.person.name, step.answer) for step in steps] == [
        (1, "Ada", "silent"),
        (2, "Ben", "silent"),
    ]
    assert steps[0].answered_at <= steps[1].asked_at
    assert CallOut.objects.get().state == CallOut.State.EXHAUSTED
    pages = Notice.objects.filter(step__isnull=False)
    first = [page.step.number for page in pages.order_by("step__number") if not page.text.startswith("Second try")]
    assert first == [1, 2]
    assert len(pages) - 2 <= 2
    assert set(Notice.objects.filter(state="sent").values_list("tries", flat=True)) == {1}
    assert Notice.objects.filter(person__name="Mo").count() >= 1
    assert Notice.objects.filter(contact__isnull=False).count() <= 1
