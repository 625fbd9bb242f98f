"""Ledger rows are added, never changed or deleted: the database itself says no, on both databases."""

import pytest
from django.contrib.auth.models import User
from django.db import DatabaseError, connection, models, transaction

from jobs import guards
from jobs.models import Area, JournalEntry
from tests.jobs.conftest import NIGHT


@pytest.fixture
def entry(area: Area, dispatcher: User) -> JournalEntry:
    return JournalEntry.objects.create(
        area=area, kind="test", happened_at=NIGHT, recorded_at=NIGHT, actor=dispatcher, data={"n": 1}
    )


def _refused(change: object) -> None:
    with pytest.raises(DatabaseError, match="never changed or deleted"), transaction.atomic():
        change()  # type: ignore[operator]


def test_the_ledgers_are_those_of_all_apps() -> None:
    names = {model._meta.label for model in guards.append_only_models()}

    assert {"jobs.JournalEntry", "jobs.AirReading", "jobs.MaterialReading", "jobs.LeadsWord"} <= names
    assert {"equipment.ReservationEntry", "equipment.Move", "equipment.SizingReport"} <= names


def test_a_row_is_neither_changed_nor_deleted(entry: JournalEntry) -> None:
    _refused(lambda: JournalEntry.objects.filter(pk=entry.pk).update(kind="other"))
    _refused(lambda: JournalEntry.objects.filter(pk=entry.pk).delete())

    assert JournalEntry.objects.get().kind == "test"


@pytest.mark.django_db
@pytest.mark.parametrize("model", guards.append_only_models(), ids=lambda model: model._meta.label)
def test_every_ledger_has_its_triggers(model: type[models.Model]) -> None:
    table = model._meta.db_table
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SELECT tgname FROM pg_trigger WHERE tgrelid = %s::regclass", [table])
        else:
            cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = %s", [table])
        names = {row[0] for row in cursor.fetchall()}

    wanted = {f"{table}_no_update", f"{table}_no_delete"}
    assert wanted | ({f"{table}_no_truncate"} if connection.vendor == "postgresql" else set()) <= names


def test_guards_can_be_made_again_and_taken_away(entry: JournalEntry) -> None:
    guards.install()
    guards.install()
    _refused(lambda: JournalEntry.objects.all().delete())

    guards.remove()
    assert JournalEntry.objects.all().delete()[0] == 1
    guards.install()
