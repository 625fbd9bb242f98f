"""Running late: the delay runs down the route as a plain sum says, each customer is told once, nobody is forgotten."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from types import SimpleNamespace
from typing import Any, cast
from uuid import uuid4

import pytest
import time_machine
from django.test import Client
from hypothesis import given
from hypothesis import strategies as st

from dispatch.crew.late import moved_by, run_late
from dispatch.models import Notice, Stop
from dispatch.notify import send_notice
from jobs.models import Contact, Visit
from jobs.refusals import NotThere, Unusable
from tests.dispatch.night import NIGHT, Night


@pytest.fixture(autouse=True)
def at_night() -> Iterator[None]:
    with time_machine.travel(NIGHT, tick=False):
        yield


def after(minutes: float) -> datetime:
    return NIGHT + timedelta(minutes=minutes)


def plain(waits: list[int], late: int) -> list[int]:
    """Minutes by which each start moves: what the waits so far have not taken up."""
    left = []
    for wait in waits:
        late = max(0, late - wait)
        left.append(late)
    return left


@given(waits=st.lists(st.integers(0, 40), min_size=1, max_size=8), late=st.integers(1, 240))
def test_waiting_takes_up_the_delay_and_the_rest_moves(waits: list[int], late: int) -> None:
    stops = [SimpleNamespace(arrive_at=after(60 * n), start_at=after(60 * n + wait)) for n, wait in enumerate(waits)]
    moved = moved_by(cast(Any, stops), timedelta(minutes=late))
    by = [int((starts_at - stop.start_at).total_seconds()) // 60 for stop, starts_at in moved]
    assert by == [minutes for minutes in plain(waits, late) if minutes]


@pytest.fixture
def route(night: Night) -> list[Stop]:
    """Stops 0:30, 2:00 (after a wait of 15 min) and 4:00 after the hour; nobody can be told at the third."""
    found = []
    for position, (begins, wait) in enumerate(((30, 0), (120, 15), (240, 0)), start=1):
        job = night.cast.job(number=f"K-{position}")
        if position < 3:
            Contact.objects.create(job=job, role="neighbor", phone="503-555-0100")
            Contact.objects.create(job=job, role="owner", name="Kim", phone=f"503-555-010{position}", lets_in=True)
        visit = night.visit(job, due_on=night.empty.service_day, window_from=after(0), window_until=after(begins + 10))
        found.append(
            Stop.objects.create(
                crew=night.empty,
                visit=visit,
                position=position,
                arrive_at=after(begins - wait),
                start_at=after(begins),
                leave_at=after(begins + 40),
            )
        )
    return found


def test_the_stops_that_follow_move_and_their_customers_are_told(night: Night, route: list[Stop]) -> None:
    done = run_late(**night.by(night.empty.lead.user), visit_id=route[0].visit_id, minutes=20)
    assert [(row.starts_at - row.was) // timedelta(minutes=1) for row in done.moved] == [20, 5, 5]
    assert [row.past_window for row in done.moved] == [True, False, False]
    assert [row.notice_id is not None for row in done.moved] == [True, True, False]
    for stop, minutes in zip(route, (20, 5, 5), strict=True):
        now = Stop.objects.get(pk=stop.pk)
        assert now.start_at == stop.start_at + timedelta(minutes=minutes)
        assert now.leave_at == stop.leave_at + timedelta(minutes=minutes)
        assert Visit.objects.get(pk=stop.visit_id).promised_start == now.start_at
    notice = Notice.objects.order_by("pk").first()
    assert notice is not None
    assert notice.contact is not None
    assert notice.contact.phone == "503-555-0101"
    assert f"{after(50).astimezone(night.empty.area.zone):%-I:%M %p}" in notice.text
    assert send_notice(now=NIGHT, work_id=0, notice_id=notice.pk) == {"state": "sent"}


def test_the_same_tap_twice_tells_nobody_twice(night: Night, route: list[Stop]) -> None:
    by = {**night.by(night.empty.lead.user), "key": uuid4()}
    assert run_late(**by, visit_id=route[0].visit_id, minutes=20) == run_late(
        **by, visit_id=route[0].visit_id, minutes=20
    )
    assert Notice.objects.count() == 2
    assert Stop.objects.get(pk=route[0].pk).start_at == after(50)


def test_what_is_behind_cannot_be_late(night: Night, route: list[Stop]) -> None:
    by = night.by(night.empty.lead.user)
    Visit.objects.filter(pk=route[0].visit_id).update(state="under_way", arrived_at=after(30))
    with pytest.raises(NotThere):
        run_late(**by, visit_id=route[0].visit_id, minutes=20)
    with pytest.raises(Unusable):
        run_late(**by, visit_id=route[1].visit_id, minutes=0)
    assert not Notice.objects.exists()


def test_one_tap_on_the_phone(night: Night, route: list[Stop]) -> None:
    phone = Client()
    phone.force_login(night.empty.lead.user, backend="django.contrib.auth.backends.ModelBackend")
    address = f"/crew/stops/{route[0].visit_id}"
    assert "20 min" in phone.get(address).content.decode()
    assert phone.post(f"{address}/late", {"key": str(uuid4()), "minutes": "soon"}).status_code == 422
    said = phone.post(f"{address}/late", {"key": str(uuid4()), "minutes": "20"}, follow=True).content.decode()
    assert "past the promised window" in said
    assert "call the desk" in said
