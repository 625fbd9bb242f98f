"""Where there is not enough for all: caps, the shortage named before anyone drives, a booked return with its clock."""

from datetime import timedelta
from typing import Any
from uuid import uuid4

import time_machine
from django.test import Client
from hypothesis import given
from hypothesis import strategies as st

from dispatch import rationing
from dispatch.callouts import answer_call_out
from dispatch.emergencies import send
from dispatch.models import Stop
from dispatch.offering import offers
from equipment.models import Reservation
from jobs.clock_board import running_clocks
from jobs.models import Promise, Visit
from tests.dispatch import busy_night
from tests.dispatch.night import NIGHT, Night

KINDS = ("air_mover", "lgr", "conventional", "desiccant", "afd", "heater")
LOADS = st.dictionaries(st.sampled_from(KINDS), st.integers(0, 60))
LARGE = {"room__a__line": "hall 30x40 floor 1200 walls 280"}


@given(LOADS)
def test_a_stabilizing_visit_leaves_at_most_its_caps(needed: dict[str, int]) -> None:
    load = rationing.capped(needed)
    assert all(0 < count <= needed[kind] for kind, count in load.items())
    assert load.get("air_mover", 0) == min(6, needed.get("air_mover", 0))
    dehumidifiers = sum(load.get(kind, 0) for kind in rationing.DEHUMIDIFIERS)
    assert dehumidifiers == min(1, sum(needed.get(kind, 0) for kind in rationing.DEHUMIDIFIERS))
    assert load.get("heater", 0) == 0


@given(LOADS, LOADS, st.integers(0, 30))
def test_short_is_what_the_loss_the_reserve_and_the_others_ask_beyond_what_is_free(
    needed: dict[str, int], free: dict[str, int], waiting: int
) -> None:
    rows = rationing.scarce(needed, free=free, stock=free, waiting=waiting)
    for row in rows:
        assert row.short == row.wanted + row.waiting * row.cap - max(0, row.free - row.reserve) > 0
    named = {row.kind for row in rows}
    for kind, count in needed.items():
        if count and count > free.get(kind, 0):
            assert kind in named
        if waiting == 0 and 10 * count <= 9 * free.get(kind, 0) - 10:
            assert kind not in named


def send_large(night: Night, **more: Any) -> Any:
    call_id = night.call(**LARGE)
    return send(**night.by(night.dispatcher), call_id=call_id, crew_id=night.empty.pk, **more)


def test_it_brings_the_caps_and_books_the_return_with_the_rest(night: Night) -> None:
    call_id = night.call(**LARGE)
    whole = offers(call_id=call_id, now=NIGHT)
    few = offers(call_id=call_id, now=NIGHT, stabilize=True)
    assert (few.needed, few.first_load, few.second_load) == (whole.needed, {"air_mover": 6, "lgr": 1}, {})
    assert {row.crew_id for row in few.offers} >= {row.crew_id for row in whole.offers}
    assert {kind: few.first_load.get(kind, 0) + count for kind, count in few.return_load.items()} == {
        kind: count for kind, count in whole.needed.items() if kind in few.return_load
    }

    sent = send(**night.by(night.dispatcher), call_id=call_id, crew_id=night.empty.pk, stabilize=True)

    held = Reservation.objects.filter(job_id=sent.job_id)
    assert {row.pool.model.kind: row.quantity for row in held} == {"air_mover": 6, "lgr": 1}
    first = Visit.objects.get(pk=sent.visit_id)
    assert (first.needs["deliver"], first.service_s) == ({"air_mover": 6, "lgr": 1}, 4500)
    assert first.kind_words == "first visit tonight, stabilizing"
    back = Visit.objects.get(pk=sent.returns.visit_id)
    assert (back.kind, back.follows_id) == (Visit.Kind.DELIVERY, first.pk)
    assert back.due_at == NIGHT + timedelta(hours=36)
    assert back.needs["deliver"] == sent.returns.load == few.return_load
    assert Visit.objects.filter(job_id=sent.job_id).count() == 2, "no second load is on its way tonight"
    assert Promise.objects.get(visit=back).due_at == back.due_at
    clocks = running_clocks(area_id=night.cast.area.pk, zone=night.cast.area.zone, now=NIGHT, most_ahead=8)
    assert back.due_at in [
        promise.due_at for promise in Promise.objects.filter(pk__in=[line.promise_id for line in clocks.lines])
    ]


def test_who_takes_it_over_brings_no_more_than_the_caps(night: Night) -> None:
    sent = send_large(night, stabilize=True)
    answer_call_out(
        **night.by(night.dispatcher), call_out_id=sent.call_out_id, answer="cannot", person_id=night.empty.lead_id
    )
    answer_call_out(**night.by(night.cast.lead), call_out_id=sent.call_out_id, answer="leaving")
    assert Stop.objects.get(visit_id=sent.visit_id).crew == night.ready
    live = Reservation.objects.filter(job_id=sent.job_id, state__in=["held", "confirmed"])
    held: dict[str, int] = {}
    for row in live:
        held[row.pool.model.kind] = held.get(row.pool.model.kind, 0) + row.quantity
    assert held == {"air_mover": 6, "lgr": 1}


@time_machine.travel(NIGHT, tick=False)
def test_the_shortage_is_named_on_the_page_before_anyone_drives_and_the_job_shows_the_return(night: Night) -> None:
    busy_night.callers(night, 4)
    call_id = night.call(**LARGE)
    desk = Client()
    desk.force_login(night.dispatcher, backend="django.contrib.auth.backends.ModelBackend")

    page = desk.get(f"/desk/calls/{call_id}/offers").content.decode()
    assert "Not enough for all" in page
    assert "and 4 other callers wait" in page
    few = desk.get(f"/desk/calls/{call_id}/offers?stabilize=1").content.decode()
    assert "Send N2 to stabilize" in few
    told = desk.get(f"/api/v1/calls/{call_id}/offers?stabilize=1").json()
    assert told["stabilizing"] is True
    assert {row["kind"]: row["waiting"] for row in told["scarce"]}["air_mover"] == 4

    body = {"key": str(uuid4()), "crew_id": night.empty.pk, "stabilize": "1"}
    assert desk.post(f"/desk/calls/{call_id}/send", body).status_code == 302
    job = Visit.objects.get(kind=Visit.Kind.DELIVERY).job
    text = desk.get(f"/desk/jobs/{job.number}").content.decode()
    assert "first visit tonight, stabilizing" in text
    assert "Return after the stabilizing visit, with" in text
    board = desk.get("/desk").content.decode()
    assert "stabilizing" in board
