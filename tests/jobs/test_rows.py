"""Rows written with a text made once are the rows that the ORM would write."""

from datetime import UTC, datetime
from uuid import uuid4

import pytest
from django.contrib.auth.models import User
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from jobs import due_work, rows
from jobs.models.due_work import DueWork
from jobs.models.record import UseCaseCall

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 1, 15, 22, 5, 0, 250_000, tzinfo=UTC)
ONCE = "(key) WHERE outcome = 'done' DO NOTHING"


@pytest.fixture
def actor() -> User:
    return User.objects.create_user("lena")


def call(actor: User, **more: object) -> UseCaseCall:
    terms = {"key": uuid4(), "verb": "hold", "actor": actor, "now": NOW, "arguments": {"job": [1, None, "é"]}}
    return UseCaseCall(**{**terms, "fingerprint": "f" * 64, **more})


def test_a_row_reads_back_as_the_orm_would_have_written_it(actor: User) -> None:
    ours, theirs = call(actor), call(actor)
    assert rows.insert(ours) == [ours.pk]
    theirs.save()
    fields = [field.attname for field in UseCaseCall._meta.concrete_fields]
    fields = [name for name in fields if name not in {"id", "key", "recorded_at"}]
    read = {row.pk: row for row in UseCaseCall.objects.all()}
    for name in fields:
        assert getattr(read[ours.pk], name) == getattr(read[theirs.pk], name) == getattr(ours, name)
    assert read[ours.pk].recorded_at == ours.recorded_at
    ours.answer = {"units": [3], "at": None}
    rows.update(ours, "answer")
    ours.refresh_from_db()
    assert ours.answer == {"units": [3], "at": None}
    assert UseCaseCall.objects.filter(answer__units=[3]).count() == 1


def test_a_row_that_is_there_is_left_alone_or_refused(actor: User) -> None:
    first = call(actor)
    rows.insert(first)
    again = call(actor, key=first.key)
    assert rows.insert(again, conflict=ONCE) == []
    assert again.pk is None
    with pytest.raises(IntegrityError), transaction.atomic():
        rows.insert(again)
    with pytest.raises(LookupError):
        rows.update(UseCaseCall(pk=first.pk + 999, answer=1), "answer")


def test_keys_taken_before_the_rows_never_meet_those_given_later(actor: User) -> None:
    rows.insert(call(actor))
    for _ in range(2):
        early = call(actor, pk=rows.next_keys(UseCaseCall, 1)[0])
        rows.insert(early)
        late = call(actor)
        late.save()
        assert late.pk > early.pk
    assert UseCaseCall.objects.count() == 5


def test_a_query_answers_with_times(actor: User) -> None:
    for now in (NOW, NOW.replace(microsecond=0)):
        rows.insert(call(actor, now=now))
    text = "SELECT id, now FROM jobs_usecasecall WHERE now >= %s ORDER BY now"
    assert [now for _, now in rows.select(text, [rows.as_stored(NOW.replace(microsecond=1))], times=(1,))] == [NOW]
    assert rows.execute("DELETE FROM jobs_usecasecall WHERE now < %s", [rows.as_stored(NOW)]) == 1


def test_several_timers_are_one_statement_and_merge_with_what_waits() -> None:
    def work(hour: int, coalesce: str | None, job: int) -> due_work.Work:
        return due_work.Work("equipment.expire_hold", {"job": job}, NOW.replace(hour=hour), coalesce)

    due_work.enqueue_all([work(5, "a", 1), work(9, "b", 1), work(7, None, 1)], now=NOW)
    with CaptureQueriesContext(connection) as queries:
        due_work.enqueue_all([work(6, "a", 2), work(8, "b", 2), work(7, None, 2)], now=NOW)
    assert len(queries) == 1
    due_work.cancel(coalesce="a", now=NOW)
    due_work.enqueue_all([work(4, "a", 3)], now=NOW)
    found = [(row.coalesce, row.arguments["job"], row.due_at.hour, row.state) for row in DueWork.objects.all()]
    assert sorted(found, key=str) == [
        ("a", 2, 5, "canceled"),
        ("a", 3, 4, "pending"),
        ("b", 2, 8, "pending"),
        (None, 1, 7, "pending"),
        (None, 2, 7, "pending"),
    ]
