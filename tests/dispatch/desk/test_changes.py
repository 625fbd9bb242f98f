"""What others changed since somebody last looked: theirs not mine, bounded, gone once seen, in three queries."""

from datetime import timedelta
from typing import Any
from uuid import uuid4

import time_machine
from django.test import Client

from dispatch import changes, emergencies
from dispatch.changes import MOST, changes_since_look, mark_looked
from dispatch.models import LastLook
from jobs import journal
from tests.dispatch.night import NIGHT, Night

LATER = NIGHT + timedelta(minutes=5)


def test_others_changes_stand_on_the_board_until_they_were_seen(
    night: Night, client: Client, django_assert_num_queries: Any
) -> None:
    manager, area = night.cast.manager, night.cast.area
    sent = emergencies.send(**night.by(night.dispatcher), call_id=night.call(), crew_id=night.ready.pk)
    for _ in range(MOST - 4):
        journal.note(kind="crew_late", actor=night.cast.lead, now=NIGHT, area_id=area.pk)
    with django_assert_num_queries(3):
        found = changes_since_look(area=area, viewer=manager, now=LATER)
    assert len(found.lines) == MOST
    assert found.more > 0
    mine = changes_since_look(area=area, viewer=night.dispatcher, now=LATER)
    assert {line.what for line in mine.lines} == {"the crew runs late"}

    client.force_login(manager)
    with time_machine.travel(LATER, tick=False) as clock:
        told = client.get(f"/api/v1/areas/{area.code}/changes").json()
        assert told["more"] == found.more
        board = client.get("/desk").content.decode()
        assert sent.job_number in board
        assert "when you last looked" in board
        clock.shift(60)
        after = LATER + timedelta(seconds=30)
        journal.note(kind="crew_arrived", actor=night.cast.lead, now=after, area_id=area.pk)
        seen = client.post("/desk/looked", {"key": str(uuid4()), "until": told["until"]})
        assert seen.status_code == 302
        board = client.get("/desk").content.decode()
        assert "the crew arrived" in board
        assert "the crew runs late" not in board
        headers = {"Idempotency-Key": str(uuid4())}
        until = {"until": (LATER + timedelta(days=9)).isoformat()}
        answer = client.post(f"/api/v1/areas/{area.code}/changes", until, "application/json", headers=headers)
        assert answer.status_code == 200
        assert "Nobody else changed anything" in client.get("/desk").content.decode()
    assert LastLook.objects.get(user=manager).at == LATER + timedelta(seconds=60)
    mark_looked(**night.by(manager, LATER), area_id=area.pk, until=NIGHT)
    assert LastLook.objects.get(user=manager).at == LATER + timedelta(seconds=60)


def test_every_kind_that_is_told_has_its_words() -> None:
    assert all(words and not words.endswith(".") for words in changes.WORDS.values())
