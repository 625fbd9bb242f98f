"""Between tests with transactions the ledgers are emptied, and guarded again."""

from datetime import UTC, datetime

import pytest
from django.contrib.auth.models import User
from django.core.management import call_command
from django.db import IntegrityError, connection, transaction

from jobs.models import Area, JournalEntry

NOW = datetime(2026, 1, 16, 6, 47, tzinfo=UTC)


def _triggers() -> set[str]:
    source = "sqlite_master WHERE type = 'trigger'" if connection.vendor == "sqlite" else "pg_trigger"
    column = "name" if connection.vendor == "sqlite" else "tgname"
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {column} FROM {source}")
        return {name for (name,) in cursor.fetchall() if name.endswith(("_no_update", "_no_delete", "_no_truncate"))}


def test_ledgers_are_emptied_and_guarded_again(transactional_db: None) -> None:
    before = _triggers()
    area = Area.objects.create(code="north", name="North")
    somebody = User.objects.create_user("dana")
    JournalEntry.objects.create(area=area, kind="tried", happened_at=NOW, recorded_at=NOW, actor=somebody)
    with pytest.raises(IntegrityError), transaction.atomic():
        JournalEntry.objects.all().delete()

    call_command("flush", interactive=False, verbosity=0)

    assert not JournalEntry.objects.exists()
    assert before
    assert _triggers() == before
