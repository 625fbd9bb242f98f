"""
A ladder of pages under fault: its runner killed at any statement, the gateway down, Redis gone, answers that cross.

What must hold each time: nobody gets one page twice, no step is lost, the order stands, and the ladder ends.
"""

from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any
from uuid import UUID

import pytest
from django.db import connection, transaction

from dispatch import transports
from dispatch.callouts import answer_call_out
from dispatch.emergencies import Sent, send
from dispatch.models import CallOut, Notice
from jobs import due_work
from jobs.models import Contact, DueWork
from jobs.people import system_user
from tests.dispatch.night import NIGHT, Night, person

MINUTE = timedelta(minutes=1)
END = 25 * MINUTE
EXPECTED = [("Ada", "silent"), ("Ben", "silent")]


class Killed(BaseException):
    """The process is gone: no handler of errors runs."""


class DieAt:
    """Die before or after the statement of this number, counted over everything that is asked of the database."""

    def __init__(self, statement: int, *, after: bool) -> None:
        self.left, self.after = statement, after

    def __call__(self, execute: Callable[..., Any], sql: str, *rest: Any) -> Any:
        self.left -= 1
        if self.left == 0 and not self.after:
            raise Killed
        answer = execute(sql, *rest)
        if self.left == 0:
            raise Killed
        return answer


class Phones:
    """Every phone of the town behind one gateway that tells a repeat by its key."""

    def __init__(self) -> None:
        self.rang: dict[UUID, str] = {}
        self.down_until = NIGHT
        self.now = NIGHT
        self.dies_after: int | None = None

    def __call__(self, message: transports.Message) -> None:
        if self.now < self.down_until:
            raise transports.NotAccepted("The gateway answered 503.")
        self.rang.setdefault(message.key, message.text)
        if self.dies_after is not None:
            self.dies_after -= 1
            if self.dies_after < 0:
                self.dies_after = None
                raise Killed


phones = Phones()


def ring(message: transports.Message) -> None:
    """The transport of these tests."""
    phones(message)


@pytest.fixture(autouse=True)
def _phones(settings: Any) -> None:
    settings.NOTICE_TRANSPORT = f"{__name__}.ring"
    phones.__init__()  # type: ignore[misc]  # as new for each test


@pytest.fixture
def sent(night: Night) -> Sent:
    sent = send(**night.by(night.dispatcher), call_id=night.call(), crew_id=night.ready.pk)
    person(night.cast, "Mo", night.cast.manager)
    Contact.objects.filter(job_id=sent.job_id).update(phone="360-555-0199")
    system_user()
    return sent


def run(until: timedelta, *, since: timedelta = timedelta(0)) -> None:
    """A runner that looks whenever something is due; one that was killed leaves its lease to run out."""
    moment = NIGHT + since
    while moment <= NIGHT + until:
        phones.now = moment
        while due_work.run_due(clock=lambda: moment):  # noqa: B023 (called before the next round)
            pass
        ahead = DueWork.objects.filter(state="pending").order_by("due_at").values_list("due_at", flat=True)
        leases = DueWork.objects.filter(state="running").values_list("lease_until", flat=True)
        times = [at for at in (*ahead[:1], *(at + timedelta(seconds=1) for at in leases if at)) if at > moment]
        if not times:
            return
        moment = min(times)


def asked() -> list[tuple[str, str]]:
    return [(step.person.name, step.answer) for step in CallOut.objects.get().steps.all()]


def holds_at_the_end() -> None:
    assert asked() == EXPECTED
    assert CallOut.objects.get().state == CallOut.State.EXHAUSTED
    steps = list(CallOut.objects.get().steps.all())
    assert [step.number for step in steps] == [1, 2]
    assert steps[0].answered_at <= steps[1].asked_at
    pages = Notice.objects.filter(step__isnull=False)
    first_tries = [page for page in pages if not page.text.startswith("Second try")]
    assert sorted(page.step.number for page in first_tries) == [1, 2], "one page for each step"
    assert len(pages) - len(first_tries) <= 2, "and at most one second try for each"
    assert Notice.objects.filter(person__name="Mo").count() == 1
    assert Notice.objects.filter(contact__isnull=False).count() == 1
    sent_keys = set(Notice.objects.filter(state="sent").values_list("key", flat=True))
    assert sent_keys <= set(phones.rang), "what counts as sent did ring"
    assert not Notice.objects.filter(state="waiting").exists()
    assert not DueWork.objects.filter(state__in=["pending", "running"], kind__startswith="dispatch.escalate").exists()


def statements() -> int:
    """How many statements the undisturbed ladder makes."""
    count = 0

    def counting(execute: Callable[..., Any], *rest: Any) -> Any:
        nonlocal count
        count += 1
        return execute(*rest)

    with undone(), connection.execute_wrapper(counting):
        run(END)
        holds_at_the_end()
    return count


class undone:
    """Whatever the block wrote is taken back after it."""

    def __enter__(self) -> None:
        self.atomic = transaction.atomic()
        self.atomic.__enter__()
        self.phones = dict(phones.rang)

    def __exit__(self, kind: Any, error: Any, trace: Any) -> None:
        if kind is None:
            transaction.set_rollback(True)
        self.atomic.__exit__(kind, error, trace)
        phones.rang = self.phones


def killed_at(numbers: Iterator[int] | range) -> None:
    for number in numbers:
        for after in (False, True):
            with undone():
                try:
                    with connection.execute_wrapper(DieAt(number, after=after)):
                        run(END)
                except Killed:
                    run(END, since=phones.now - NIGHT)
                try:
                    holds_at_the_end()
                except AssertionError as error:
                    raise AssertionError(
                        f"killed {'after' if after else 'before'} statement {number}: {error}"
                    ) from error


def test_killed_at_statements_over_the_whole_ladder(sent: Sent) -> None:
    """A sample of the statements, spread over all of them; the long test takes every one."""
    killed_at(range(5, statements(), 193))


@pytest.mark.long
def test_killed_at_every_statement(sent: Sent) -> None:
    killed_at(range(1, statements() + 1))


@pytest.mark.parametrize("ring_number", [0, 1, 2])
def test_killed_after_the_gateway_took_a_page_and_before_that_was_written(sent: Sent, ring_number: int) -> None:
    phones.dies_after = ring_number
    with pytest.raises(Killed):
        run(END)
    run(END, since=phones.now - NIGHT)
    holds_at_the_end()
    assert len(phones.rang) == len(set(phones.rang)) == Notice.objects.filter(state="sent").count()


def test_a_gateway_that_comes_back_late_rings_nobody_whose_step_is_over(sent: Sent) -> None:
    phones.down_until = NIGHT + 4 * MINUTE
    run(END)
    assert [name for name, _ in asked()] == ["Ada", "Ben"]
    assert asked()[0] == ("Ada", "unreached")
    late = [text for text in phones.rang.values() if "Can you leave now" in text and "10:52 PM" in text]
    assert late == [], "Ada's page is not sent after Ben was asked"
    assert CallOut.objects.get().state == CallOut.State.EXHAUSTED


def test_a_yes_as_the_next_page_goes_out_sends_one_crew_and_stops_the_rest(night: Night, sent: Sent) -> None:
    """The first says yes after the second was written to and before the message leaves."""
    run(5 * MINUTE - timedelta(seconds=1))
    phones.now = NIGHT + 5 * MINUTE
    work = DueWork.objects.get(kind="dispatch.escalate_call_out", state="pending")
    due_work.run_one(work.pk, now=phones.now)
    assert asked() == [("Ada", "silent"), ("Ben", "")]
    answer_call_out(**night.by(night.cast.lead, phones.now), call_out_id=sent.call_out_id, answer="leaving")
    run(END, since=5 * MINUTE)
    assert asked() == [("Ada", "leaving"), ("Ben", "")]
    page = Notice.objects.get(step__number=2)
    assert page.state == Notice.State.NOT_NEEDED
    assert not [text for text in phones.rang.values() if "10:57 PM" in text]
    assert CallOut.objects.get().crew_id == night.ready.pk


def test_without_redis_the_rows_alone_move_the_ladder(night: Night, settings: Any) -> None:
    """A broker that cannot be reached when the rows are written costs a line in the log, and no step."""
    settings.REDIS_URL = "redis://127.0.0.1:1/0"
    send(**night.by(night.dispatcher), call_id=night.call(), crew_id=night.ready.pk)
    person(night.cast, "Mo", night.cast.manager)
    Contact.objects.update(phone="360-555-0199")
    run(END)
    holds_at_the_end()
